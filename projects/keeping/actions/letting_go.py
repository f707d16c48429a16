"""What was deleted goes for good, once it might have been put back for long enough: rows, log and photos."""

from collections.abc import Iterable
from datetime import datetime

from django.apps import apps
from django.db import connection, models, transaction
from django.db.models import ProtectedError

from finishing.workshops.actions.audit import note
from finishing.workshops.models import AuditEntry, Membership, Workshop
from projects.record.models import (
    Buyer,
    Candidate,
    ColourReply,
    Design,
    FilmReading,
    Fitting,
    Follower,
    KeptState,
    Loan,
    LoanChange,
    Machine,
    Order,
    PaintReceipt,
    Photo,
    Piece,
    PlanRun,
    Project,
    Removal,
    SheetAddress,
    Slot,
    Step,
    StoryPage,
    Trial,
    TryOut,
    VisitPiece,
)

from .removing import delete_files

HOUSE = "housekeeping"  # who did it, in the audit
# What goes with a project, and by which way each leads to it. Pieces and machines come last: the log's guard asks them.
OF_PROJECT: tuple[tuple[type[models.Model], str], ...] = (
    (PlanRun.projects.through, "project"),
    (Slot.pieces.through, "piece__project"),
    (ColourReply, "try_out__photo__project"),
    (SheetAddress, "try_out__photo__project"),
    (Candidate, "try_out__photo__project"),
    (TryOut, "photo__project"),
    (FilmReading, "piece__project"),
    (Photo, "project"),
    (StoryPage, "project"),
    (VisitPiece, "piece__project"),
    (Removal, "machine__project"),
    (Step, "piece__project"),
    (Fitting, "machine__project"),
    (Trial, "machine__project"),
    (PaintReceipt, "project"),
    (LoanChange, "loan__project"),
    (Loan, "project"),
    (KeptState, "piece__project"),
    (Piece, "project"),
    (Machine, "project"),
    (Follower, "project"),
    (Project, "pk"),
)


def let_go(now: datetime) -> list[str]:
    """Delete for good what was deleted 30 days ago or before; what it was, in words."""
    gone = [_workshop(workshop) for workshop in Workshop.with_deleted.over(now)]
    over = Project.with_deleted.over(now).select_related("design", "workshop")
    gone += [let_go_of_project(project) for project in over]
    gone += [_member(left) for left in Membership.with_deleted.over(now).select_related("user", "workshop")]
    return gone


@transaction.atomic
def _workshop(workshop: Workshop) -> str:
    """The people's accounts stay: they may belong to another, or join one."""
    kinds = [model for model in apps.get_models() if _has_workshop(model)]
    of_workshop = [(model, model._base_manager.filter(workshop=workshop)) for model in kinds]
    files = {name for model, rows in of_workshop for name in _files(model, rows)}
    for model, rows in of_workshop:
        for field in model._meta.local_many_to_many:
            through = field.remote_field.through
            assert through is not None
            holder = field.m2m_field_name()
            _delete(through._base_manager.filter(**{f"{holder}__in": rows.values("pk")}))
    for _, rows in of_workshop:
        _delete(rows)
    _delete(Workshop.with_deleted.filter(pk=workshop.pk))
    note(AuditEntry.What.DELETED, by=None, name=HOUSE, about=f"for good: workshop {workshop}")
    transaction.on_commit(lambda: delete_files(files))
    return f"workshop {workshop}"


@transaction.atomic
def let_go_of_project(project: Project) -> str:
    """Orders and buyers stay, with what they cost and paid: they belong to the design."""
    pieces = Piece._base_manager.filter(project=project)
    files = set(_files(Photo, Photo._base_manager.filter(project=project)))
    Order.objects.filter(project=project).update(project=None)
    Buyer.objects.filter(machine__project=project).update(machine=None)
    others_planned = PlanRun.projects.through.objects.exclude(project=project).values("planrun")
    PlanRun._base_manager.filter(projects=project).exclude(pk__in=others_planned).delete()
    others_held = Slot.pieces.through.objects.exclude(piece__project=project).values("slot")
    Slot._base_manager.filter(pieces__in=pieces).exclude(pk__in=others_held).delete()
    for model, way in OF_PROJECT:
        _delete(model._base_manager.filter(**{way: project.pk}))
    files -= set(_files(Photo, Photo._base_manager.filter(workshop=project.workshop)))  # of a rack that was partly it
    if project.design.hidden:
        _without_use(project.design)
    note(AuditEntry.What.DELETED, by=None, name=HOUSE, workshop=project.workshop, about=f"for good: project {project}")
    transaction.on_commit(lambda: delete_files(files))
    return f"project {project} of {project.workshop}"


def _without_use(design: Design) -> None:
    """A design that was made with one project and that nothing else names goes with it."""
    try:
        with transaction.atomic():
            design.delete()
    except ProtectedError:
        return


def _member(left: Membership) -> str:
    left.delete()
    about = f"for good: {left.user} as a member"
    note(AuditEntry.What.DELETED, by=None, name=HOUSE, workshop=left.workshop, about=about)
    return f"{left.user} as a member of {left.workshop}"


def _has_workshop(model: type[models.Model]) -> bool:
    return any(field.name == "workshop" and field.related_model is Workshop for field in model._meta.fields)


def _files(model: type[models.Model], rows: "models.QuerySet[models.Model]") -> Iterable[str]:
    fields = [field.name for field in model._meta.concrete_fields if isinstance(field, models.FileField)]
    return (name for field in fields for name in rows.exclude(**{field: ""}).values_list(field, flat=True))


def _delete(rows: "models.QuerySet[models.Model]") -> None:
    """In one statement, without what Django would look up first: everything that names these rows goes too, and the
    database asks at the end of the transaction whether it did."""
    inner, params = rows.order_by().values("pk").query.sql_with_params()
    table = connection.ops.quote_name(rows.model._meta.db_table)
    key = connection.ops.quote_name(str(rows.model._meta.pk.column))
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {table} WHERE {key} IN ({inner})", params)
