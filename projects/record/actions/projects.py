"""What is done with a project as a whole."""

from collections.abc import Iterable
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from projects.record.actions.changes import note_change
from projects.record.actions.states import keep_states
from projects.record.models import Design, Follower, Machine, Order, Piece, Project


@transaction.atomic
def start_project(project: Project, machines: Iterable[str]) -> Project:
    """Save a new project with its machines; without a design it is a restoration and gets one of its own."""
    if project.design_id is None:
        project.design = Design.objects.create(workshop=project.workshop, name=project.name, hidden=True)
    project.save()
    add_machines(project, machines)
    return project


def add_machines(project: Project, numbers: Iterable[str]) -> None:
    """Machines that are there already stay as they are."""
    known = set(project.machines.values_list("number", flat=True))
    new = [number for number in dict.fromkeys(numbers) if number not in known]
    Machine.objects.bulk_create(Machine(workshop=project.workshop, project=project, number=number) for number in new)


@transaction.atomic
def change_project(project: Project) -> Project:
    """Save the project; a hidden design goes by its project's name."""
    project.save()
    if project.design.hidden and project.design.name != project.name:
        project.design.name = project.name
        project.design.save(update_fields=["name"])
    return project


@transaction.atomic
def renew_address(project: Project, name: str = "") -> Follower:
    """A new public address; those before it open nothing any more."""
    close_addresses(project)
    return Follower.objects.create(workshop=project.workshop, project=project, name=name)


def close_addresses(project: Project) -> None:
    project.followers.in_use().update(closed=True)


@transaction.atomic
def delete_project(project: Project, now: datetime) -> None:
    """Out of sight with its machines, pieces, log, photos and public address, as long as it may be put back.

    Raises ValidationError, in words for the person, while something ordered for it has not come.
    """
    orders = Order.objects.filter(project=project, cancelled_on=None).prefetch_related("lines__receipts")
    if waiting := [order for order in orders if any(line.outstanding for line in order.lines.all())]:
        raise ValidationError(f"{waiting[0]} is still to come for it: cancel that order first, or wait for it.")
    project.deleted_at = now
    project.save(update_fields=["deleted_at"])
    note_change(project.workshop_id)


@transaction.atomic
def put_back_project(project: Project) -> None:
    """As it was. What its pieces' logs mean is read anew, for systems may have changed meanwhile."""
    project.deleted_at = None
    project.save(update_fields=["deleted_at"])
    keep_states(Piece.objects.filter(project=project))
    note_change(project.workshop_id)
