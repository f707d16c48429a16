"""Who comes in: sign in and out, the first start, joining by a link, and choosing a workshop."""

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.contrib.messages.views import SuccessMessageMixin
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import VisitorRequest, WorkshopRequest, member
from finishing.workshops.actions.workshops import LinkSpent, join_workshop
from finishing.workshops.forms.accounts import AccountForm, OwnPasswordForm, SignInForm
from finishing.workshops.forms.base import as_uuid
from finishing.workshops.models import Invitation, Membership, User

sign_in = LoginView.as_view(
    template_name="finishing/workshops/accounts/sign_in.html",
    authentication_form=SignInForm,
    redirect_authenticated_user=True,
)
sign_out = LogoutView.as_view()


class PasswordView(SuccessMessageMixin, PasswordChangeView):
    template_name = "finishing/workshops/accounts/password.html"
    form_class = OwnPasswordForm
    success_url = reverse_lazy("password")
    success_message = "Your password is changed."


password = PasswordView.as_view()


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
    if not request.user.is_authenticated:
        login(request, membership.user)
    request.session["workshop"] = str(membership.workshop_id)
    messages.success(request, f"Welcome to {membership.workshop}.")
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
