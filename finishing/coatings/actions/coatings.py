"""Data sheets are kept and copied. What a workshop changes is marked with where it took the value from."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction

from finishing.coatings.models import Additive, Coating, DryingPoint, TinSize
from finishing.site.models import WorkshopRow

# a coating's tables by its own name for them
TABLES: dict[str, type[DryingPoint] | type[TinSize] | type[Additive]] = {
    "drying_points": DryingPoint,
    "tin_sizes": TinSize,
    "additives": Additive,
}
OWNERS = ("coating", "workshop")


@transaction.atomic
def save_coating(
    coating: Coating,
    *,
    changed: list[str],
    source: str,
    rows: Mapping[str, Sequence[WorkshopRow]],
    pot_life: list[list[float]],
) -> Coating:
    """The values with their tables; each value that changed takes `source` as its basis."""
    known = {name: [] if coating._state.adding else _as_text(getattr(coating, name).all()) for name in TABLES}
    changed = [*changed, *(name for name in TABLES if _as_text(rows[name]) != known[name])]
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


def _replace_tables(coating: Coating, rows: Mapping[str, Sequence[WorkshopRow]]) -> None:
    for name, model in TABLES.items():
        model.objects.filter(coating=coating).delete()
        for row in rows[name]:
            model.objects.create(**_values(row, leave=OWNERS), coating=coating, workshop=coating.workshop)


def _values(row: WorkshopRow, leave: tuple[str, ...] = ()) -> dict[str, Any]:
    names = [field.name for field in row._meta.concrete_fields if field.name not in ("id", *leave)]
    return {name: getattr(row, name) for name in names}


def _as_text(rows: Iterable[WorkshopRow]) -> list[dict[str, str]]:
    """Rows as comparable text, whatever their ids, and whatever units they have passed through."""
    values = [{name: getattr(v, "magnitude", v) for name, v in _values(row, leave=OWNERS).items()} for row in rows]
    return [{name: f"{v:.4g}" if isinstance(v, float) else str(v) for name, v in row.items()} for row in values]
