"""A workshop begins and is deleted, people join it and leave it, its places are taken out. A ValidationError says in
words for the person who asked why it cannot be done."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError
from django.utils import timezone

from finishing.workshops.models import Invitation, Membership, Place, User, Workshop

Role = Membership.Role


def first_link() -> Invitation | None:
    """The one-time link by which the first owner begins; none once there is a workshop."""
    if Workshop.with_deleted.exists():
        return None
    usable = Invitation.objects.usable(timezone.now()).filter(workshop=None)
    return usable.first() or Invitation.objects.create()


@transaction.atomic
def join_workshop(*, invitation: Invitation, user: User) -> Membership:
    """Who is a member already keeps the role and leaves the link for somebody else."""
    workshop = invitation.workshop
    assert workshop is not None  # the link of the first owner begins one instead
    if already := Membership.objects.of(workshop).filter(user=user).first():
        return already
    spend(invitation)
    user.save()
    if left := Membership.with_deleted.filter(workshop=workshop, user=user).first():
        left.deleted_at, left.role = None, invitation.role
        left.save(update_fields=["deleted_at", "role"])
        return left
    return Membership.objects.create(workshop=workshop, user=user, role=invitation.role)


class LinkSpent(Exception):
    """Somebody else was quicker with a link that works once."""


def spend(invitation: Invitation) -> None:
    """One update that only one of two simultaneous visitors can win."""
    if not Invitation.objects.filter(pk=invitation.pk, used_at=None).update(used_at=timezone.now()):
        raise LinkSpent


@transaction.atomic
def change_role(membership: Membership, *, role: str) -> None:
    if membership.role == Role.OWNER and role != Role.OWNER:
        _keep_an_owner(membership)
    membership.role = role
    membership.save(update_fields=["role"])


@transaction.atomic
def remove_member(membership: Membership, now: datetime) -> None:
    """The person's log entries stay; only the way in goes."""
    if membership.role == Role.OWNER:
        _keep_an_owner(membership)
    membership.deleted_at = now
    membership.save(update_fields=["deleted_at"])


def _keep_an_owner(leaving: Membership) -> None:
    owners = Membership.objects.of(leaving.workshop).filter(role=Role.OWNER).select_for_update()
    if not any(owner != leaving for owner in owners):
        raise ValidationError("A workshop needs an owner: make somebody else owner first.")


def delete_workshop(workshop: Workshop, now: datetime) -> None:
    """From now on nobody comes in, by sign-in, link or secret address."""
    workshop.deleted_at = now
    workshop.save(update_fields=["deleted_at"])


def put_back(row: Workshop | Membership) -> None:
    row.deleted_at = None
    row.save(update_fields=["deleted_at"])


def remove_place(place: Place) -> None:
    try:
        place.delete()
    except ProtectedError as error:
        raise ValidationError(f"“{place}” stands in the records, so it stays. It may be renamed.") from error
