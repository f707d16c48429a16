"""What we thought, and what it took: one line of it, and the minutes that a project's work should take.

An estimate of the whole says nothing of work half done, so what was logged is held against the estimate of just that.
Nothing logged is None, and never nothing.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Any

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.units import Quantity
from finishing.science.work_time import LETTERING, WIPING, Rates, lettering_minutes, wiping_minutes
from finishing.science.working import Working, true_minus
from projects.money.unit import machine_cost
from projects.record.models.pieces import Piece
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import racks, work_of

from .cost_sheet import CostSheet
from .hand_work import lots, operations_logged, thought_of

UNITS = {"min": "minute", "L": "liter", "kg": "kilogram"}
AN_HOUR_AT_60 = Decimal(60)  # a wage at which every minute costs one
# The works of the log, and what each was reckoned by
REASONS = {
    "masking": "area · the workshop's minutes for a square metre",
    "wiping": f"area · {WIPING.value:.0f} min/m²",
    "blasting": "area · the workshop's minutes for a square metre",
    "preparing": "area · minutes of the system's layer",
    "coats": "area · minutes of the system's layer",
    "mixing": "coats of each part · the workshop's minutes; of what was logged, those for each entry",
    "cleaning up": "coats of each part · the workshop's minutes; of what was logged, those for each entry",
    "lettering": f"pieces with letters · {LETTERING.value:.0f} min",
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
        return true_minus(f"{self.more:+} %")

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
    rates, parts = shop.rates, set()
    for piece in pieces:
        for work, minutes in _of_piece(piece, rates):
            found[work] += minutes
        if piece.part.system and piece.part not in parts:
            parts.add(piece.part)
            coats = len(piece.part.system.coats)
            found["mixing"] += coats * rates.mixing
            found["cleaning up"] += coats * rates.cleaning
    return dict(found)


def _of_piece(piece: Piece, rates: Rates) -> Iterable[tuple[str, float]]:
    part, area = piece.part, piece.part.square_metres
    if part.has_letters and not piece.state.letters_skipped:
        yield "lettering", lettering_minutes(1)
    if area is None:
        return
    yield "masking", rates.to_mask(area)
    yield "wiping", wiping_minutes(area)
    yield "blasting", rates.to_blast(area)
    for layer in part.system.layers.all() if part.system else ():
        yield "coats" if layer.is_coat else "preparing", layer.minutes_on(area)


def timed(what: str, steps: Iterable[Step], shop: Any, whole: float | None, how: str = "") -> Taken:
    """The time that these entries tell, beside what the rates give for the same work."""
    own = [step for step in steps if step.kind != Step.Kind.NOTED or step.minutes is not None]
    told = [step for step in own if step.minutes is not None]
    took = sum(float(step.minutes.to("minute").magnitude) for step in told) if told else None
    thought = summed(rack.reckoned(shop.rates) for rack in racks(told))
    rests_on = f"{len(told)} of {len(own)} entries with a time" if own else ""
    return Taken(what, "min", whole, thought, took, rests_on, how)


def minutes_by_work(pieces: Iterable[Piece], steps: Iterable[Step], shop: Any) -> list[Taken]:
    whole, logged = whole_minutes(pieces, shop), defaultdict(list)
    for step in steps:
        logged[work_of(step)].append(step)
    rows = [timed(work, logged[work], shop, whole.get(work), how) for work, how in REASONS.items()]
    return [row for row in rows if not row.empty]


# -- own hands on the routes


@dataclass(frozen=True, eq=False)
class HandsTaken:
    """Own hands beside finishing, as the routes have them for so many machines and as the log tells."""

    sheet: CostSheet
    machines: int
    steps: list[Step]

    @cached_property
    def operations(self) -> dict[str, Operation]:
        return {str(row.pk): row for row in operations_logged([self.sheet.design])}

    @cached_property
    def whole(self) -> list[tuple[Any, str, Decimal]]:
        """Minutes of every line of the sheet, with its operation's key and process."""
        counted = replace(self.sheet.terms, wage=AN_HOUR_AT_60, overhead=Decimal(0))
        parts = machine_cost(self.sheet.routes, self.machines, counted).parts if self.sheet.known else ()
        lines = (line for part in parts for line in part.lines)
        return [
            (line.key, line.operation.process, line.work + line.setups * line.operation.minutes_setup) for line in lines
        ]

    @property
    def by_process(self) -> list[Taken]:
        return self._rows(self.whole, self.steps)

    def of_part(self, part: Any) -> list[Taken]:
        """What its own route asks for; work on the machine as a whole is no part's, but its share of time is told."""
        here = {key for key, row in self.operations.items() if row.part_id == part.pk}
        whole = [line for line in self.whole if line[0] in here]
        return self._rows(whole, [step for step in self.steps if step.piece.part_id == part.pk])

    def _rows(self, whole: list[tuple[Any, str, Decimal]], steps: list[Step]) -> list[Taken]:
        named = [process for process in Operation.Process if process not in Operation.FINISHING]
        rows = (self._of_process(process, whole, [step for step in steps if step.work == process]) for process in named)
        return [row for row in rows if not row.empty]

    def _of_process(self, process: Any, whole: list[tuple[Any, str, Decimal]], steps: list[Step]) -> Taken:
        told, stray = lots(steps, self.operations.values())
        timed_ones = racks(steps)
        return Taken(
            process.label,
            "min",
            sum(minutes for _, own, minutes in whole if own == process) or None,
            None if stray or not told else thought_of(told, self.sheet.row.reading),
            sum(rack.minutes for rack in timed_ones) if timed_ones else None,
            f"{len(timed_ones)} entr{'y' if len(timed_ones) == 1 else 'ies'} with a time" if timed_ones else "",
            _told_of(process, bool(stray)),
        )


def _told_of(process: Any, stray: bool) -> str:
    if process not in Step.Work.values:
        return "set-ups and pieces of the routes · their minutes; what comes from others is not timed"
    usual = "set-ups and pieces of the routes · their minutes; of what was logged, those of its lots and pieces"
    return (
        f"{usual}. Some entries belong to no single operation of a route, so nothing is held against them."
        if stray
        else usual
    )
