"""Data sheets are kept and copied. What a workshop changes is marked with where it took the value from."""

import uuid
from typing import Any

from django.db import transaction

from finishing.coatings.models import Additive, Coating, DryingPoint, TinSize

ROWS = {"drying_points": DryingPoint, "tin_sizes": TinSize, "additives": Additive}
OWNERS = ("coating", "workshop")


@transaction.atomic
def save_coating(
    coating: Coating, *, changed: list[str], source: str, rows: dict[str, list[Any]], pot_life: list[list[float]]
) -> Coating:
    """The values with their tables; each value that changed takes `source` as its basis."""
    new = coating._state.adding
    known = {} if new else {name: _told(getattr(coating, name).all()) for name in ROWS}
    changed = [*changed, *(name for name in ROWS if _told(rows[name]) != known.get(name, []))]
    if pot_life != coating.pot_life:
        changed, coating.pot_life = [*changed, "pot_life"], pot_life
    coating.basis = {**coating.basis, **dict.fromkeys(changed, source)}
    coating.save()
    for name, model in ROWS.items():
        _replace(model, coating, rows[name])
    return coating


@transaction.atomic
def copy_coating(coating: Coating, *, pk: uuid.UUID) -> Coating:
    """One's own tin, begun from another sheet; asked twice with the same id it is made once."""
    made = Coating.objects.filter(pk=pk).first()
    if made and made.workshop_id == coating.workshop_id:
        return made
    rows = {name: list(getattr(coating, name).all()) for name in ROWS}
    copied = Coating(**_values(coating) | {"id": uuid.uuid4() if made else pk, "from_library": False, "retired": False})
    copied.name = f"{coating.name[:90]} (copy)"
    copied.save()
    for name, model in ROWS.items():
        _replace(model, copied, rows[name])
    return copied


def _replace(model: Any, coating: Coating, rows: list[Any]) -> None:
    model.objects.filter(coating=coating).delete()
    for row in rows:
        owned = {"coating": coating, "workshop": coating.workshop}
        model.objects.create(**_values(row, leave=("id", *OWNERS)) | owned)


def _values(row: Any, leave: tuple[str, ...] = ("id",)) -> dict[str, Any]:
    return {field.name: getattr(row, field.name) for field in row._meta.concrete_fields if field.name not in leave}


def _told(rows: Any) -> list[dict[str, str]]:
    """Rows as comparable text, whatever their ids, and whatever units they have passed through."""
    leave = ("id", *OWNERS)
    return [{name: _text(value) for name, value in _values(row, leave).items()} for row in rows]


def _text(value: Any) -> str:
    number = getattr(value, "magnitude", value)
    return f"{number:.4g}" if isinstance(number, float) else str(number)
