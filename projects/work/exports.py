"""The paint list as CSV: a row for each coat on each part, a sum for each coating, and what could not be reckoned."""

from collections.abc import Iterable
from typing import Any

from finishing.site.fields import convert, pint_unit, shown_unit
from projects.site.exports import csv_bytes
from projects.work.domain.paint import Coat, CoatingNeed, PaintList

HEAD = (
    "row", "coating", "part", "layer", "pieces", "marks", "area each", "low", "likely", "high", "thinner", "buy",
    "left over", "cost", "note",
)  # fmt: skip


def paint_csv(paints: PaintList, us: bool, currency: str) -> bytes:
    """In the workshop's units, which the heading names."""
    heading = _heading(us, currency)
    rows = ([row.get(name) for name in HEAD] for row in _rows(paints, us))
    return csv_bytes([heading[name] for name in HEAD], rows)


def _heading(us: bool, currency: str) -> dict[str, str]:
    litres, area = shown_unit("L", us), shown_unit("m²", us)
    units = dict.fromkeys(("low", "likely", "high", "thinner", "left over"), litres)
    units |= {"area each": area, "cost": currency}
    return {name: f"{name}, {units[name]}" if name in units else name for name in HEAD}


def _rows(paints: PaintList, us: bool) -> Iterable[dict[str, Any]]:
    for need in paints.needs:
        yield from (_coat(coat, us) for coat in need.coats)
        yield _sum(need, us)
    for piece, why in paints.missing:
        yield {"row": "not reckoned", "part": piece.part.name, "pieces": 1, "marks": piece.mark, "note": why}


def _coat(coat: Coat, us: bool) -> dict[str, Any]:
    return {
        "row": "coat",
        "coating": coat.layer.coating.name,
        "part": coat.part.name,
        "layer": coat.layer.label,
        "pieces": len(coat.pieces),
        "marks": " ".join(piece.mark for piece in coat.pieces),
        "area each": _number(coat.area, "m²", us),
        **_spread(coat.litres, us),
        "thinner": _number(coat.thinner.likely, "L", us),
    }


def _sum(need: CoatingNeed, us: bool) -> dict[str, Any]:
    row = {
        "row": "coating",
        "coating": need.coating.name,
        **_spread(need.litres, us),
        "thinner": _number(need.thinner.likely, "L", us),
        "note": f"with what stays in tin or gun; tins for the {need.wanted} amount",
    }
    if need.purchase:
        row["buy"] = ", ".join(f"{count} × {_number(tin.size, 'L', us)}" for tin, count in need.purchase.tins)
        row["left over"] = _number(need.purchase.left_over, "L", us)
        row["cost"] = need.purchase.cost if need.priced else ""
    return row


def _spread(litres: Any, us: bool) -> dict[str, str]:
    return {name: _number(getattr(litres, name), "L", us) for name in ("low", "likely", "high")}


def _number(value: Any, unit: str, us: bool) -> str:
    return f"{convert(value.to(pint_unit(unit)).magnitude, unit, shown_unit(unit, us)):.3f}"
