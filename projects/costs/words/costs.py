"""How each number on the sheet of a batch came about."""

from collections.abc import Iterator
from dataclasses import replace

from finishing.science.working import Working
from projects.money.learning import hours_working
from projects.money.starts import rolled, starts_working
from projects.money.unit_cost import CostingTerms, PartCost, line_working, part_working


def part_workings(part: PartCost, terms: CostingTerms, currency: str) -> Iterator[Working]:
    """How many are started, each line with its hours, and one good part."""
    if part.starts != part.good:
        through = rolled([line.operation.yield_ for line in part.lines])
        yield starts_working(part.good, through, terms.chance)
    for line in part.lines:
        yield line_working(line, terms, currency)
        first, learning = line.operation.minutes_each / 60, line.operation.learning
        if learning is not None:
            hours = hours_working(first, learning, line.entering, terms.learning, line.operation.made_before)
            yield replace(hours, name=f"hours of {line.name}, with learning")
    yield part_working(part, currency)
