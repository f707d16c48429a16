"""A workshop begins, people join it and leave it, its places and days off are kept."""

from typing import Any

from django.db import transaction
from django.db.models import ProtectedError
from django.utils import timezone

from finishing.workshops.models import DayOff, Invitation, Membership, Place, User, Workshop

Role = Membership.Role


class Refused(Exception):
    """What was asked cannot be done; the text says why, in words for the person who asked."""


def first_link() -> Invitation | None:
    """The one-time link by which the first owner begins; none once there is a workshop."""
    if Workshop.objects.exists():
        return None
    usable = Invitation.objects.usable(timezone.now()).filter(workshop=None)
    return usable.first() or Invitation.objects.create()


def invite(*, workshop: Workshop | None, role: str) -> Invitation:
    return Invitation.objects.create(workshop=workshop, role=role)


def withdraw(invitation: Invitation) -> None:
    invitation.delete()


@transaction.atomic
def join_workshop(*, invitation: Invitation, user: User) -> Membership:
    """Who is a member already keeps the role and leaves the link for somebody else."""
    already = Membership.objects.of(invitation.workshop).filter(user=user).first()
    if already:
        return already
    spend(invitation)
    user.save()
    return Membership.objects.create(workshop=invitation.workshop, user=user, role=invitation.role)


def spend(invitation: Invitation) -> None:
    """One update that only one of two simultaneous visitors can win."""
    if not Invitation.objects.filter(pk=invitation.pk, used_at=None).update(used_at=timezone.now()):
        raise Refused("This link has been used already.")


@transaction.atomic
def change_role(membership: Membership, *, role: str) -> None:
    if membership.role == Role.OWNER and role != Role.OWNER:
        _keep_an_owner(membership)
    membership.role = role
    membership.save(update_fields=["role"])


@transaction.atomic
def remove_member(membership: Membership) -> None:
    """The person's log entries stay; only the way in goes."""
    if membership.role == Role.OWNER:
        _keep_an_owner(membership)
    membership.delete()


def _keep_an_owner(leaving: Membership) -> None:
    owners = Membership.objects.of(leaving.workshop).filter(role=Role.OWNER).select_for_update()
    if not any(owner != leaving for owner in owners):
        raise Refused("A workshop needs an owner: make somebody else owner first.")


def keep(row: Any) -> Any:
    """A workshop's settings, a place or days off, as the form has checked them."""
    row.save()
    return row


def remove_place(place: Place) -> None:
    try:
        place.delete()
    except ProtectedError as error:
        raise Refused(f"“{place}” stands in the records, so it stays. It may be renamed.") from error


def remove_day_off(day_off: DayOff) -> None:
    day_off.delete()
