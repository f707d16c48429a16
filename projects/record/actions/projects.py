"""What is done with a project as a whole."""

from collections.abc import Iterable

from django.db import transaction

from projects.record.models import Design, Follower, Machine, Project


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
