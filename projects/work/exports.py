"""The paint list as CSV: a row for each coat on each part, a sum for each coating, and what could not be reckoned."""

from collections.abc import Iterable

from finishing.coatings.models import Coating
from finishing.science.surface import Range
from finishing.science.units import Quantity
from finishing.site.fields import convert, pint_unit, shown_unit
from projects.site.exports import Value, csv_bytes
from projects.work.domain.paint import AdditiveNeed, Coat, CoatingNeed, LettersNeed, PaintList

HEAD = (
    "row", "coating", "part", "layer", "pieces", "marks", "area each", "low", "likely", "high", "thinner", "buy",
    "left over", "cost", "note",
)  # fmt: skip


def paint_csv(paints: PaintList, measures: str, currency: str) -> bytes:
    """In the workshop's units, which the heading names; without a currency there is no money in it."""
    columns = [name for name in HEAD if currency or name != "cost"]
    units = dict.fromkeys(("low", "likely", "high", "thinner", "left over"), shown_unit("L", measures))
    units |= {"area each": shown_unit("m²", measures), "cost": currency}
    heading = [f"{name}, {units[name]}" if name in units else name for name in columns]
    return csv_bytes(heading, ([row.get(name) for name in columns] for row in _rows(paints, measures)))


def _rows(paints: PaintList, measures: str) -> Iterable[dict[str, Value]]:
    for need in paints.needs:
        yield from (_coat(coat, need.coating, measures) for coat in need.coats)
        yield _sum(need, measures)
        yield from (_additive(dose, need.coating, measures) for dose in need.additives)
    yield from (_letters(need, measures) for need in paints.letters)
    for piece, why in paints.missing:
        yield {"row": "not reckoned", "part": piece.part.name, "pieces": 1, "marks": piece.mark, "note": why}


def _coat(coat: Coat, coating: Coating, measures: str) -> dict[str, Value]:
    return {
        "row": "coat",
        "coating": coating.name,
        "part": coat.part.name,
        "layer": coat.layer.label,
        "pieces": len(coat.pieces),
        "marks": " ".join(piece.mark for piece in coat.pieces),
        "area each": _number(coat.area, "m²", measures),
        **_spread(coat.litres, measures),
        "thinner": _number(coat.thinner.likely, "L", measures),
    }


def _letters(need: LettersNeed, measures: str) -> dict[str, Value]:
    return {
        "row": "letters",
        "coating": need.coating.name if need.coating else "",
        "pieces": len(need.pieces),
        "marks": " ".join(piece.mark for piece in need.pieces),
        **(_spread(need.litres, measures) if need.litres else {}),
        "note": "one coat",
    }


def _sum(need: CoatingNeed, measures: str) -> dict[str, Value]:
    row: dict[str, Value] = {
        "row": "coating",
        "coating": need.coating.name,
        **_spread(need.litres, measures),
        "thinner": _number(need.thinner.likely, "L", measures),
        "note": f"with what stays in tin or gun; tins for the {need.wanted} amount",
    }
    if need.purchase:
        row["buy"] = ", ".join(f"{count} × {_number(tin.size, 'L', measures)}" for tin, count in need.purchase.tins)
        row["left over"] = _number(need.purchase.left_over, "L", measures)
        row["cost"] = need.purchase.cost if need.priced else ""
    return row


def _additive(dose: AdditiveNeed, coating: Coating, measures: str) -> dict[str, Value]:
    likely, cost = _number(dose.volume, "L", measures), "" if dose.cost is None else dose.cost
    return {"row": "additive", "coating": coating.name, "note": dose.additive.name, "likely": likely, "cost": cost}


def _spread(litres: Range, measures: str) -> dict[str, Value]:
    return {name: _number(getattr(litres, name), "L", measures) for name in ("low", "likely", "high")}


def _number(value: Quantity, unit: str, measures: str) -> str:
    return f"{convert(value.to(pint_unit(unit)).magnitude, unit, shown_unit(unit, measures)):.3f}"
