"""What we thought, and what it took: one line of it, and the minutes that a project's work should take.

An estimate of the whole says nothing of work half done, so what was logged is held against the estimate of just that.
Nothing logged is None, and never nothing.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.units import Quantity
from finishing.science.working import Working
from projects.costing.unit import Terms, machine_cost

from .cost_sheet import CostSheet
from .pieces import Piece
from .plan_steps import LETTERS, WIPE
from .routes import Operation
from .steps import Step
from .work_log import WORK, reckoned_minutes

UNITS = {"min": "minute", "L": "liter", "kg": "kilogram"}
AN_HOUR_AT_60 = Decimal(60)  # a wage at which every minute costs one
# The works of the log, and what each was reckoned by
REASONS = {
    "masking and wiping": "area · (masking + wiping); the log has no entry for it",
    "blasting": "area · the workshop's minutes for a square metre",
    "preparing": "area · minutes of the system's layer",
    "coats": "area · minutes of the system's layer",
    "mixing and cleaning up": "coats of each part · (mixing + cleaning up); the log has no entry of its own for it",
    "lettering": f"pieces with letters · {LETTERS.magnitude:.0f} min",
    "touching up": "nothing is reckoned for it",
    "turning over": "nothing is reckoned for it",
    "moving": "nothing is reckoned for it",
}


@dataclass(frozen=True)
class Taken:
    """Thought for all of it; thought for what has a figure; that figure. Without a unit it is money."""

    what: str
    unit: str = ""
    whole: Any = None
    thought: Any = None
    took: Any = None
    rests_on: str = ""
    how: str = ""

    @property
    def difference(self) -> Any:
        return None if self.thought is None or self.took is None else self.took - self.thought

    @property
    def more(self) -> int | None:
        """By how many percent it took more, or less."""
        if self.difference is None or not self.thought:
            return None
        return round(100 * float(self.difference) / float(self.thought))

    @property
    def more_told(self) -> str:
        return f"{self.more:+} %".replace("-", "−")

    @property
    def empty(self) -> bool:
        return not self.whole and self.thought is None and self.took is None

    @property
    def figures(self) -> list[tuple[str, Any]]:
        """With their units, or as money."""
        named = {"all of it": self.whole, "of what has a figure": self.thought, "took": self.took}
        return [(name, self._with_unit(figure)) for name, figure in [*named.items(), ("difference", self.difference)]]

    def _with_unit(self, figure: Any) -> Any:
        return figure if figure is None or not self.unit else Quantity(float(figure), UNITS[self.unit])

    def working(self, currency: str) -> Working:
        def told(figure: Any) -> str:
            if figure is None:
                return "not known"
            return f"{float(figure):.4g} {self.unit}" if self.unit else f"{figure:.2f} {currency}"

        inputs = (
            ("thought, all of it", told(self.whole)),
            ("thought, of what has a figure", told(self.thought)),
            ("took", "nothing logged" if self.took is None else told(self.took)),
            *((("rests on", self.rests_on),) if self.rests_on else ()),
        )
        share = "" if self.more is None else f", {self.more:+} %"
        return Working(self.what, "took − thought", inputs, told(self.difference) + share, COMMON_PRACTICE, self.how)


def summed(figures: Iterable[Any]) -> Any:
    """None where one of them is not known, or there is none."""
    told = list(figures)
    return None if not told or None in told else sum(told[1:], told[0])


# -- minutes


def whole_minutes(pieces: Iterable[Piece], shop: Any) -> dict[str, float]:
    """By work, what the rates give for all that these pieces ask for, read with_log()."""
    found: dict[str, float] = defaultdict(float)
    parts = set()
    for piece in pieces:
        for work, minutes in _of_piece(piece, shop):
            found[work] += minutes
        if piece.part.system and piece.part not in parts:
            parts.add(piece.part)
            around = float((shop.mixing_minutes + shop.cleaning_minutes).magnitude)
            found["mixing and cleaning up"] += len(piece.part.system.coats) * around
    return dict(found)


def _of_piece(piece: Piece, shop: Any) -> Iterable[tuple[str, float]]:
    part = piece.part
    if part.has_letters and not piece.state.letters_skipped:
        yield "lettering", float(LETTERS.magnitude)
    if part.area is None:
        return
    area = float(part.area.to("m**2").magnitude)
    yield "masking and wiping", area * float((shop.masking_minutes + WIPE).magnitude)
    yield "blasting", area * float(shop.blasting_minutes.magnitude)
    for layer in part.system.layers.all() if part.system else ():
        half = 1 if layer.side == layer.Side.ALL else 2
        yield "coats" if layer.is_coat else "preparing", area * float(layer.minutes.magnitude) / half


def timed(what: str, steps: Iterable[Step], shop: Any, whole: float | None, how: str = "") -> Taken:
    """The time that these entries tell, beside what the rates give for the same work."""
    own = [step for step in steps if step.kind != Step.Kind.NOTED or step.minutes is not None]
    told = [step for step in own if step.minutes is not None]
    took = sum(float(step.minutes.to("minute").magnitude) for step in told) if told else None
    thought = summed(reckoned_minutes(step, shop) for step in told)
    rests_on = f"{len(told)} of {len(own)} entries with a time" if own else ""
    return Taken(what, "min", whole, thought, took, rests_on, how)


def minutes_by_work(pieces: Iterable[Piece], steps: Iterable[Step], shop: Any) -> list[Taken]:
    whole, logged = whole_minutes(pieces, shop), defaultdict(list)
    for step in steps:
        logged[WORK[step.kind]].append(step)
    rows = [timed(work, logged[work], shop, whole.get(work), how) for work, how in REASONS.items()]
    return [row for row in rows if not row.empty]


def hands_by_process(sheet: CostSheet, machines: int) -> list[Taken]:
    """Own hands on the routes, beside finishing: no log is kept of them, so they are only thought."""
    usual: Terms = sheet.terms
    counted = replace(usual, wage=AN_HOUR_AT_60, overhead=Decimal(0))
    whole: dict[str, Decimal] = defaultdict(Decimal)
    for part in machine_cost(sheet.routes, machines, counted).parts if sheet.known else ():
        for line in part.lines:
            whole[line.operation.process] += line.work + line.setups * line.operation.minutes_setup
    reason = "set-ups and pieces of the routes · their minutes; the log has no entry for it"
    named = [(process.label, whole[process]) for process in Operation.Process if process not in Operation.FINISHING]
    return [Taken(label, "min", minutes, how=reason) for label, minutes in named if minutes]
