"""The workshop itself: settings, members, places and days off."""

from collections.abc import Callable
from typing import ParamSpec
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import IN_WORDS, RIGHTS, WorkshopRequest, member
from finishing.workshops.actions import passwords, workshops
from finishing.workshops.actions.audit import address_of, note
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.settings import (
    DayOffForm,
    HeldForm,
    InviteForm,
    PlaceForm,
    RoleForm,
    WorkshopSettingsForm,
)
from finishing.workshops.models import AuditEntry, DayOff, Invitation, Membership, Place, Workshop
from finishing.workshops.models.workshops import time_zones

What = AuditEntry.What
AUDIT_PAGE = 50  # entries


@member()
def settings(request: WorkshopRequest) -> HttpResponse:
    """Whoever may not settle reads what holds here, and finds their own password."""
    if "settle" not in request.may:
        return render(request, "finishing/workshops/settings/settings.html")
    # a copy, so that what was typed wrongly does not show in the page's head
    workshop = Workshop.objects.get(pk=request.workshop.pk)
    form = WorkshopSettingsForm(request.POST or None, instance=workshop)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Settings kept.")
        return redirect("settings")
    return render(request, "finishing/workshops/settings/settings.html", {"form": form, "time_zones": time_zones()})


@member("settle")
def members(request: WorkshopRequest) -> HttpResponse:
    own = Membership.objects.of(request.workshop).select_related("user").order_by("user__first_name", "user__username")
    links = Invitation.objects.usable(timezone.now()).filter(workshop=request.workshop).order_by("made_at")
    return render(
        request,
        "finishing/workshops/settings/members.html",
        {
            "rows": [(membership, RoleForm(instance=membership, auto_id=f"{membership.pk}-%s")) for membership in own],
            "links": [(link, request.build_absolute_uri(reverse("join", args=[link.token]))) for link in links],
            "form": InviteForm(),
            "roles": Membership.Role.values,
            "rights": [
                (IN_WORDS[right], [(role, role in holders) for role in Membership.Role])
                for right, holders in RIGHTS.items()
            ],
        },
    )


@require_POST
@member("settle")
def invite(request: WorkshopRequest) -> HttpResponse:
    form = InviteForm(request.POST)
    if form.is_valid():
        Invitation.objects.create(workshop=request.workshop, role=form.cleaned_data["role"])
        _note(request, What.INVITED, f"a {form.cleaned_data['role']}")
        messages.success(request, "The link is ready below. Send it to one person; it works once, for 14 days.")
    else:
        messages.error(request, "Choose one of the roles.")
    return redirect("members")


@require_POST
@member("settle")
def withdraw(request: WorkshopRequest, token: str) -> HttpResponse:
    get_object_or_404(Invitation, workshop=request.workshop, token=token, used_at=None).delete()
    _note(request, What.WITHDRAWN)
    messages.success(request, "The link no longer works.")
    return redirect("members")


@require_POST
@member("settle")
def change_role(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    membership = get_object_or_404(Membership.objects.of(request.workshop), pk=pk)
    form = RoleForm(request.POST)
    if form.is_valid():
        if attempt(request, workshops.change_role, membership, role=form.cleaned_data["role"]):
            _note(request, What.ROLE, f"{membership.user}: {membership.role}")
    else:
        messages.error(request, "Choose one of the roles.")
    return redirect("members")


@require_POST
@member("settle")
def remove_member(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    membership = get_object_or_404(Membership.objects.of(request.workshop), pk=pk)
    if attempt(request, workshops.remove_member, membership, timezone.now()):
        _note(request, What.REMOVED, f"{membership.user}, {membership.role}")
    return redirect("members")


@require_POST
@member("settle")
def renew_password(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A link for a member who has forgotten the password, to be handed over by whatever way."""
    person = get_object_or_404(Membership.objects.of(request.workshop).select_related("user"), pk=pk).user
    if not passwords.may_renew_password(request.user, person):
        messages.error(
            request,
            f"{person} belongs to a workshop that is not yours, or keeps this installation: whoever runs the server"
            " makes such a link, by the command password_link.",
        )
        return redirect("members")
    _note(request, What.RESET_LINK, f"for {person}")
    link = request.build_absolute_uri(passwords.password_link(person))
    response = render(request, "finishing/workshops/settings/password_link.html", {"person": person, "link": link})
    response["Cache-Control"] = "no-store"
    return response


@member("settle")
def audit(request: WorkshopRequest) -> HttpResponse:
    """The newest first; those of a kind alone where one is asked for."""
    entries = AuditEntry.objects.seen_by(request.workshop)
    kind = request.GET.get("what", "")
    if kind in What.values:
        entries = entries.filter(what=kind)
    page = Paginator(entries, AUDIT_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "kinds": What.choices, "kind": kind}
    return render(request, "finishing/workshops/settings/audit.html", context)


def _note(request: WorkshopRequest, what: AuditEntry.What, about: str = "") -> None:
    note(what, by=request.user, workshop=request.workshop, about=about, address=address_of(request))


P = ParamSpec("P")


def attempt(request: WorkshopRequest, action: Callable[P, None], *args: P.args, **kwargs: P.kwargs) -> bool:
    """Do it, or say why not; whether it was done."""
    try:
        action(*args, **kwargs)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return False
    messages.success(request, "Done.")
    return True


@member()
def places(request: WorkshopRequest) -> HttpResponse:
    return render(request, "finishing/workshops/settings/places.html", {"places": Place.objects.of(request.workshop)})


@member("settle")
def place_new(request: WorkshopRequest) -> HttpResponse:
    form = PlaceForm(request.POST or None, workshop=request.workshop)
    return kept_or_shown(request, form, "place", then="places")


@member("settle")
def place_edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    place = get_object_or_404(Place.objects.of(request.workshop), pk=pk)
    asked = HeldForm(request.GET).asked
    form = PlaceForm(request.POST or None, workshop=request.workshop, instance=place, initial=asked)
    return kept_or_shown(request, form, "place", then="places")


def kept_or_shown(request: WorkshopRequest, form: WorkshopForm, noun: str, *, then: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect(then)
    return render(request, f"finishing/workshops/settings/{noun}.html", {"form": form})


@require_POST
@member("settle")
def place_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    attempt(request, workshops.remove_place, get_object_or_404(Place.objects.of(request.workshop), pk=pk))
    return redirect("places")


@member()
def days_off(request: WorkshopRequest) -> HttpResponse:
    return render(
        request, "finishing/workshops/settings/days_off.html", {"days_off": DayOff.objects.of(request.workshop)}
    )


@member("settle")
def day_off_new(request: WorkshopRequest) -> HttpResponse:
    form = DayOffForm(request.POST or None, workshop=request.workshop)
    return kept_or_shown(request, form, "day_off", then="days-off")


@require_POST
@member("settle")
def day_off_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    get_object_or_404(DayOff.objects.of(request.workshop), pk=pk).delete()
    return redirect("days-off")
