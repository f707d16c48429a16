"""How each number on the sheet of a batch came about."""

from collections.abc import Iterator
from dataclasses import replace

from finishing.science.working import Working
from projects.money.learning import hours_working
from projects.money.starts import rolled, starts_working
from projects.money.unit import Line, PartCost, Terms, line_working, part_working


def part_workings(part: PartCost, terms: Terms, currency: str) -> Iterator[Working]:
    """How many are started, each line with its hours, and one good part."""
    if part.starts != part.good:
        through = rolled([line.operation.yield_ for line in part.lines])
        yield starts_working(part.good, through, terms.chance)
    for line in part.lines:
        yield line_working(line, terms, currency)
        if line.operation.learning is not None:
            yield _hours(line, terms)
    yield part_working(part, currency)


def _hours(line: Line, terms: Terms) -> Working:
    first = line.operation.minutes_each / 60
    working = hours_working(first, line.operation.learning, line.entering, terms.learning)
    return replace(working, name=f"hours of {line.name}, with learning")
