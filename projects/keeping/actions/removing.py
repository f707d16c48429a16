"""What was made by mistake: gone at once where nothing was logged, ordered or made with it, else set aside."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.db import DEFAULT_DB_ALIAS, models, transaction
from django.db.models.deletion import Collector, ProtectedError

from finishing.coatings.models import Additive, Coating, DryingPoint, Layer, System, TinSize
from finishing.media.models import Medium
from finishing.site.models import WorkshopRow
from projects.record.actions.changes import note_change
from projects.record.actions.pieces import set_aside
from projects.record.models import (
    Buyer,
    Check,
    CostRange,
    CostTerms,
    Design,
    Fitting,
    Follower,
    KeptState,
    Machine,
    Operation,
    Order,
    OrderLine,
    Part,
    Photo,
    Piece,
    PlanRun,
    Project,
    RequestLine,
    Revision,
    Slot,
    Step,
    Supplier,
    Tag,
    VisitPiece,
)

IN_WORDS: dict[type[models.Model], tuple[str, str]] = {  # of one, and of several
    Step: ("entry in the log", "entries in the log"),
    VisitPiece: ("blasting visit", "blasting visits"),
    Layer: ("layer of a coating system", "layers of coating systems"),
    OrderLine: ("line of an order", "lines of orders"),
    RequestLine: ("line of a request", "lines of requests"),
    Fitting: ("place in a machine", "places in machines"),
    Slot.pieces.through: ("step of a plan", "steps of a plan"),
}


@dataclass(frozen=True)
class Removable:
    """A kind of row that may be removed. own: rows that are nothing without it, and go with it · inner: the relation
    whose rows go before it · aside: the column that sets it aside; "" where `instead` says what to do"""

    name: str
    model: type[WorkshopRow]
    page: str
    own: frozenset[type[models.Model]] = frozenset()
    inner: str = ""
    aside: str = ""
    instead: str = ""

    @property
    def plural(self) -> str:
        return str(self.model._meta.verbose_name_plural)


def _kind(
    model: type[WorkshopRow],
    *own: type[models.Model],
    page: str = "",
    aside: str = "",
    inner: str = "",
    instead: str = "",
) -> Removable:
    name = model.__name__.lower()
    return Removable(name, model, page or name, frozenset({model, *own}), inner, aside, instead)


KINDS = {
    kind.name: kind
    for kind in (
        _kind(Piece, KeptState, Tag, aside="set_aside"),
        _kind(Part, Operation, Revision, instead="Set its pieces aside instead: they then wait outside the day sheet."),
        _kind(Photo, page="photo-about", instead="What it belongs to keeps it. Keep it from the customer instead."),
        _kind(
            Project, Machine, Piece, KeptState, Tag, Follower, PlanRun.projects.through, inner="pieces",
            instead="An owner may delete it all the same, under Change: it may be put back for 30 days.",
        ),
        _kind(
            Design, Part, Operation, Revision, Check, CostTerms, CostRange,
            instead="It stays with what was made of it.",
        ),
        _kind(Coating, DryingPoint, TinSize, Additive, aside="retired"),
        _kind(System, Layer, Additive, aside="retired"),
        _kind(Medium, aside="retired"),
        _kind(Supplier, aside="retired"),
        _kind(Order, OrderLine, instead="Cancel it instead, on its own page; that may be taken back."),
        _kind(Buyer, instead="Say under Change that they no longer want one."),
    )
}  # fmt: skip


def hanging(kind: Removable, row: WorkshopRow) -> list[str]:
    """What would be lost with it, or stands in its way: in words, with how many."""
    found: Counter[type[models.Model]] = Counter()
    if kind.inner:
        found += _lost(kind, list(getattr(row, kind.inner).all()))
    found += _lost(kind, [row])
    if isinstance(row, Photo) and row.step_id:  # the log keeps what it shows
        found[Step] += 1
    return [f"{count} {_word(model, count)}" for model, count in found.items()]


def _lost(kind: Removable, rows: list[Any]) -> Counter[type[models.Model]]:
    collector = Collector(using=DEFAULT_DB_ALIAS)
    found: Counter[type[models.Model]] = Counter()
    try:
        collector.collect(rows)
    except ProtectedError as error:
        found.update(type(other) for other in error.protected_objects)
    found.update({model: len(lost) for model, lost in collector.data.items()})
    for lost in collector.fast_deletes:
        found[lost.model] += lost.count()
    return Counter({model: count for model, count in found.items() if count and model not in kind.own})


def delete_files(names: Iterable[str]) -> None:
    for name in names:
        default_storage.delete(name)


def _word(model: type[models.Model], count: int) -> str:
    one, several = IN_WORDS.get(model) or (str(model._meta.verbose_name), str(model._meta.verbose_name_plural))
    return one if count == 1 else several


@transaction.atomic
def remove(kind: Removable, row: WorkshopRow) -> None:
    """Raises ValidationError, in words for the person, where something hangs on it."""
    if hung := hanging(kind, row):
        raise ValidationError(f"“{row}” stays. What hangs on it: {', '.join(hung)}.")
    design = row.design if isinstance(row, Project) and row.design.hidden else None
    if kind.inner:
        getattr(row, kind.inner).all().delete()
    row.delete()
    if isinstance(row, Photo):
        transaction.on_commit(partial(delete_files, [str(row.image.name), str(row.thumbnail.name)]))
    if design and not hanging(KINDS["design"], design):  # it was made with the project
        design.delete()
    note_change(row.workshop_id)


@transaction.atomic
def put_aside(kind: Removable, row: WorkshopRow, aside: bool) -> None:
    """Out of what is offered and of the day's work; or back."""
    if isinstance(row, Piece):
        set_aside(row, aside)
    else:
        setattr(row, kind.aside, aside)
        row.save(update_fields=[kind.aside])
    note_change(row.workshop_id)
