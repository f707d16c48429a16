"""What is done with a design as a whole."""

from uuid import UUID

from django.db import transaction

from projects.record.models import Design, Operation, Part, Project


@transaction.atomic
def copy_design(design: Design, project: Project) -> Project:
    """A project of a design of its own: the parts of another with their systems and routes, and none of its pieces.

    Revisions, checks, patterns, quotes and orders stay where they are: they are of what was made.
    """
    own = Design.objects.create(
        workshop=design.workshop, name=project.name, hidden=design.hidden, note=f"Copied from {design}."
    )
    parts: dict[UUID | None, Part | None] = {None: None}
    for part in design.parts.all():
        parts[part.pk] = part.once_more(design=own)
    Part.objects.bulk_create([part for part in parts.values() if part])
    rows = list(design.operations.all())
    operations = {row.pk: row.once_more(design=own, part=parts[row.part_id], keep_with=None) for row in rows}
    Operation.objects.bulk_create(operations.values())
    for row in rows:
        if row.keep_with_id:
            operations[row.pk].keep_with = operations.get(row.keep_with_id)
    Operation.objects.bulk_update(operations.values(), ["keep_with"])
    project.design = own
    project.save()
    return project
