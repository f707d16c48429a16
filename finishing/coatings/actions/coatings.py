"""Data sheets are kept and copied. What a workshop changes is marked with where it took the value from."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction

from finishing.coatings.models import Additive, Coating, DryingPoint, Layer, TinSize
from finishing.science.drying import DryingStage
from finishing.site.models import WorkshopRow

# a coating's tables by its own name for them
TABLES: dict[str, type[DryingPoint] | type[TinSize] | type[Additive]] = {
    "drying_points": DryingPoint,
    "tin_sizes": TinSize,
    "additives": Additive,
}
OWNERS = ("coating", "workshop")


class AdditiveInUse(Exception):
    """One was left out that a layer of some system has stirred in."""

    def __init__(self, additive: Additive, layer: Layer) -> None:
        super().__init__(str(additive))
        self.additive, self.layer = additive, layer


@transaction.atomic
def save_coating(
    coating: Coating,
    *,
    changed: list[str],
    source: str,
    rows: Mapping[str, Sequence[WorkshopRow]],
    pot_life: list[list[float]],
) -> Coating:
    """The values with their tables; each value that changed takes `source` as its basis, in the drying table each time
    by itself."""
    known = {name: [] if coating._state.adding else list(getattr(coating, name).all()) for name in TABLES}
    plain = [name for name in TABLES if name != "drying_points"]
    changed = [*changed, *(name for name in plain if _as_text(rows[name]) != _as_text(known[name]))]
    _note_times([row for row in known["drying_points"] if isinstance(row, DryingPoint)], rows["drying_points"], source)
    if pot_life != coating.pot_life:
        changed, coating.pot_life = [*changed, "pot_life"], pot_life
    coating.basis = {**coating.basis, **dict.fromkeys(changed, source)}
    coating.save()
    _replace_tables(coating, rows)
    return coating


@transaction.atomic
def copy_coating(coating: Coating, *, pk: uuid.UUID) -> Coating:
    """One's own tin, begun from another sheet; asked twice with the same id it is made once."""
    made = Coating.objects.filter(pk=pk).first()
    if made and made.workshop_id == coating.workshop_id:
        return made
    rows = {name: list(getattr(coating, name).all()) for name in TABLES}
    copied = Coating(**_values(coating) | {"id": uuid.uuid4() if made else pk, "from_library": False, "retired": False})
    copied.name = f"{coating.name[:90]} (copy)"
    copied.save()
    _replace_tables(copied, rows)
    return copied


def _note_times(known: Sequence[DryingPoint], rows: Sequence[WorkshopRow], source: str) -> None:
    """Each row keeps the basis of the times that are as they were at its temperature; the others take `source`."""
    before = {round(row.value().temperature, 3): row for row in known}
    for row in rows:
        assert isinstance(row, DryingPoint)  # of the drying table
        now, old = row.value(), before.get(round(row.value().temperature, 3))
        given = [stage for stage in DryingStage if now.hours(stage) is not None]
        kept = [stage for stage in given if old and _same(now.hours(stage), old.value().hours(stage))]
        own = old.basis if old else {}
        row.basis = {stage: own[stage] for stage in kept if stage in own} | {
            str(stage): source for stage in given if stage not in kept
        }


def _same(hours: float | None, before: float | None) -> bool:
    return hours is not None and before is not None and f"{hours:.4g}" == f"{before:.4g}"


def _replace_tables(coating: Coating, rows: Mapping[str, Sequence[WorkshopRow]]) -> None:
    """Rows made anew; but an additive stays the one that layers have stirred in, and keeps its id."""
    standing = {additive.pk: additive for additive in coating.additives.all()}
    for name, model in TABLES.items():
        if model is not Additive:
            model.objects.filter(coating=coating).delete()
        for row in rows[name]:
            kept = standing.pop(row.pk, None) if model is Additive else None
            own = {"coating": coating, "workshop": coating.workshop} | ({"id": kept.pk} if kept else {})
            model(**_values(row, leave=OWNERS), **own).save(force_update=kept is not None)
    for gone in standing.values():
        if layer := gone.layers.select_related("system").first():
            raise AdditiveInUse(gone, layer)
        gone.delete()


def _values(row: WorkshopRow, leave: tuple[str, ...] = ()) -> dict[str, Any]:
    names = [field.name for field in row._meta.concrete_fields if field.name not in ("id", *leave)]
    return {name: getattr(row, name) for name in names}


def _as_text(rows: Iterable[WorkshopRow]) -> list[dict[str, str]]:
    """Rows as comparable text, whatever their ids, and whatever units they have passed through."""
    values = [{name: getattr(v, "magnitude", v) for name, v in _values(row, leave=OWNERS).items()} for row in rows]
    return [{name: f"{v:.4g}" if isinstance(v, float) else str(v) for name, v in row.items()} for row in values]
