"""Who comes in: sign in and out, the first start, joining by a link, and choosing a workshop."""

from datetime import timedelta
from typing import Any

import segno
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView, PasswordResetConfirmView
from django.contrib.messages.views import SuccessMessageMixin
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import VisitorRequest, WorkshopRequest, known_device, member
from finishing.workshops.actions import audit
from finishing.workshops.actions.one_time_codes import address_for_app, begin_codes, end_codes, new_secret
from finishing.workshops.actions.workshops import LinkSpent, join_workshop
from finishing.workshops.domain.towns import label_of, suggest_towns
from finishing.workshops.forms.accounts import (
    AccountForm,
    CodeForm,
    FirstCodeForm,
    NewPasswordForm,
    OwnPasswordForm,
    SignInForm,
)
from finishing.workshops.forms.base import as_uuid
from finishing.workshops.models import AuditEntry, Invitation, Membership, OneTimeCodes, SignIn, User

CODE_WITHIN = timedelta(minutes=10)  # after the password


class SignInView(LoginView):
    """Name and password; whoever has one-time codes is let in by one of them, on the next page."""

    template_name = "finishing/workshops/accounts/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        user = form.get_user()
        if not OneTimeCodes.objects.filter(user=user.pk).exists():
            return super().form_valid(form)
        wanted = {"user": str(user.pk), "until": (timezone.now() + CODE_WITHIN).timestamp()}
        self.request.session.cycle_key()
        self.request.session["code_wanted"] = wanted | {"next": self.get_success_url()}
        return redirect("sign-in-code")


sign_in = SignInView.as_view()


def sign_in_code(request: VisitorRequest) -> HttpResponse:
    wanted = request.session.get("code_wanted", {})
    if not wanted or wanted["until"] < timezone.now().timestamp():
        return redirect("sign-in")
    user = get_object_or_404(User, pk=wanted["user"], is_active=True)
    form = CodeForm(request.POST or None, user=user, device=known_device(request, user.get_username()))
    if request.method == "POST" and form.is_valid():
        del request.session["code_wanted"]
        login(request, user)
        return redirect(wanted["next"])
    return render(request, "finishing/workshops/accounts/sign_in_code.html", {"form": form})


@login_required
def codes(request: VisitorRequest) -> HttpResponse:
    """Switch one-time codes on. For another phone they go off first, which takes a code: a page left open is no key."""
    assert isinstance(request.user, User)
    if OneTimeCodes.objects.filter(user=request.user).exists():
        return redirect("codes-end")
    secret = request.session.setdefault("codes_secret", new_secret())
    form = FirstCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if recovery := begin_codes(request.user, secret, form.cleaned_data["code"], timezone.now()):
            del request.session["codes_secret"]
            audit.note(AuditEntry.What.CODES_ON, by=request.user, address=audit.address_of(request))
            return _nowhere_kept(render(request, "finishing/workshops/accounts/recovery.html", {"recovery": recovery}))
        form.add_error("code", "This is not the code of this moment. Is the phone's clock right?")
    picture = segno.make(address_for_app(request.user, secret), error="m").svg_inline(scale=5, border=4, light="#fff")
    context = {"form": form, "secret": secret, "picture": picture}
    return _nowhere_kept(render(request, "finishing/workshops/accounts/codes.html", context))


@login_required
def codes_end(request: VisitorRequest) -> HttpResponse:
    """Only with a code: a device that was left open does not switch them off."""
    assert isinstance(request.user, User)
    get_object_or_404(OneTimeCodes, user=request.user)
    form = CodeForm(request.POST or None, user=request.user, device=known_device(request, request.user.get_username()))
    if request.method == "POST" and form.is_valid():
        end_codes(request.user)
        audit.note(AuditEntry.What.CODES_OFF, by=request.user, address=audit.address_of(request))
        messages.success(request, "One-time codes are off: the password alone lets you in.")
        return redirect("password")
    return render(request, "finishing/workshops/accounts/codes_end.html", {"form": form})


def _nowhere_kept(response: HttpResponse) -> HttpResponse:
    response["Cache-Control"] = "no-store"
    return response


sign_out = LogoutView.as_view()


class PasswordView(SuccessMessageMixin, PasswordChangeView):
    """One's own account: the password, and the devices on which one is signed in."""

    template_name = "finishing/workshops/accounts/password.html"
    form_class = OwnPasswordForm
    success_url = reverse_lazy("password")
    success_message = "Your password is changed. Other devices have to sign in again."

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        others = form.user.sign_ins.exclude(session_key=self.request.session.session_key)
        audit.end_sign_ins(others)
        audit.note(AuditEntry.What.PASSWORD, by=form.user, address=audit.address_of(self.request))
        response = super().form_valid(form)
        audit.note_sign_in(self.request, form.user)  # Django gives the session another key
        return response

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        here = self.request.session.session_key
        rows = SignIn.objects.filter(user=self.request.user.pk).still_open()
        return super().get_context_data(**kwargs) | {
            "sign_ins": [(row, row.session_key == here) for row in rows],
            "codes": OneTimeCodes.objects.filter(user=self.request.user.pk).first(),
        }


@require_POST
@login_required
def end_sign_ins(request: VisitorRequest) -> HttpResponse:
    """On one device, or on all but this one."""
    assert isinstance(request.user, User)
    own = request.user.sign_ins.exclude(session_key=request.session.session_key)
    if request.POST.get("sign_in") != "others":
        own = own.filter(pk=get_object_or_404(own, pk=as_uuid(request.POST.get("sign_in"))).pk)
    audit.end_sign_ins(own)
    audit.note(AuditEntry.What.SESSION_ENDED, by=request.user, address=audit.address_of(request))
    messages.success(request, "Signed out there.")
    return redirect("password")


class NewPasswordView(PasswordResetConfirmView):
    """Behind a link that an owner has made: a new password, and all devices have to sign in again."""

    template_name = "finishing/workshops/accounts/new_password.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("sign-in")

    def form_valid(self, form: "SetPasswordForm[User]") -> HttpResponse:
        audit.end_sign_ins(form.user.sign_ins.all())
        audit.note(AuditEntry.What.PASSWORD, by=form.user, address=audit.address_of(self.request))
        messages.success(self.request, "Your new password holds. Sign in with it.")
        return super().form_valid(form)


new_password = NewPasswordView.as_view()

password = PasswordView.as_view()


def towns(request: VisitorRequest) -> HttpResponse:
    """Those whose name begins as what is typed, for the box that asks where a workshop stands."""
    labels = [label_of(town) for town in suggest_towns(request.GET.get("where", "")[:120])]
    return render(request, "finishing/workshops/accounts/_towns.html", {"labels": labels})


def join(request: VisitorRequest, token: str) -> HttpResponse:
    invitation = usable(token, first=False)
    if invitation is None:
        return link_spent(request)
    account = account_form(request)
    if request.method == "POST" and (account is None or account.is_valid()):
        try:
            return enter(request, join_workshop(invitation=invitation, user=person(request, account)))
        except LinkSpent:
            return link_spent(request)
    return render(request, "finishing/workshops/accounts/join.html", {"invitation": invitation, "account": account})


def usable(token: str, *, first: bool) -> Invitation | None:
    links = Invitation.objects.usable(timezone.now()).filter(workshop__isnull=first)
    return links.filter(token=token).select_related("workshop").first()


def link_spent(request: VisitorRequest) -> HttpResponse:
    return render(request, "finishing/workshops/accounts/link_spent.html", status=410)


def account_form(request: VisitorRequest) -> AccountForm | None:
    """Who is signed in needs no new account."""
    return None if request.user.is_authenticated else AccountForm(request.POST or None)


def person(request: VisitorRequest, account: AccountForm | None) -> User:
    """Who joins: the account just made, not kept yet, or who is signed in."""
    if account:
        return account.save(commit=False)
    assert isinstance(request.user, User)  # else there would be an account to make
    return request.user


def enter(request: VisitorRequest, membership: Membership) -> HttpResponse:
    audit.note(
        AuditEntry.What.JOINED,
        by=membership.user,
        workshop=membership.workshop,
        about=f"as {membership.role}",
        address=audit.address_of(request),
    )
    if not request.user.is_authenticated:
        login(request, membership.user)
    request.session["workshop"] = str(membership.workshop_id)
    shop = membership.workshop
    told = f" {shop.time_zone}, {shop.get_units_display()}, {shop.currency}; all of it can be changed in the settings."
    messages.success(request, f"Welcome to {shop}.{told if membership.role == Membership.Role.OWNER else ''}")
    return redirect("day-sheet")


@login_required
def choose_workshop(request: VisitorRequest) -> HttpResponse:
    own = Membership.objects.filter(user=request.user.pk).select_related("workshop").order_by("workshop__name")
    if request.method == "POST":
        chosen = get_object_or_404(own, pk=as_uuid(request.POST.get("membership")))
        request.session["workshop"] = str(chosen.workshop_id)
        return redirect("day-sheet")
    return render(request, "finishing/workshops/accounts/choose_workshop.html", {"memberships": own})


@require_POST
@member("settle")
def another_workshop(request: WorkshopRequest) -> HttpResponse:
    """An owner may begin a second workshop by the same page as the first."""
    return redirect("first-start", token=Invitation.objects.create().token)


@login_required
def no_workshop(request: VisitorRequest) -> HttpResponse:
    return render(request, "finishing/workshops/accounts/no_workshop.html")
