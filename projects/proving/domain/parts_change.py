"""What a change of many parts at once does with each: what becomes otherwise, and what stays, with why."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from projects.buying.domain.routes_in_bulk import held_routes, with_route
from projects.record.domain.coated_parts import coated
from projects.record.models import Operation, Part

from .parts_list import COLUMNS, same_number


@dataclass(frozen=True)
class PartsChange:
    """counts: parts that become otherwise, by heading · changed: those of them whose own columns do, not yet saved ·
    routes: those that get another route · stays: what does not change, and why"""

    changed: list[Part]
    routes: list[Part]
    counts: Mapping[str, int]
    stays: list[tuple[Part, str]] = field(default_factory=list)

    @property
    def parts(self) -> int:
        return len({part.pk for part in (*self.changed, *self.routes)})


def change_of(
    parts: Sequence[Part], asked: Mapping[str, Any], *, over_coats: bool, route: bool, like: Part | None, anew: bool
) -> PartsChange:
    """asked: values by column · over_coats: another system also where coats are in the log · route: give one, as
    `like` has it or else the usual one; anew: also where there is one."""
    has_coats = coated(parts)
    counts: Counter[str] = Counter()
    stays: list[tuple[Part, str]] = []
    changed: list[Part] = []
    for part in parts:
        differs = {name: value for name, value in asked.items() if not _same(getattr(part, name), value)}
        for name, why in _forbidden(part, differs, part.pk in has_coats and not over_coats):
            stays.append((part, why))
            del differs[name]
        for name, value in differs.items():
            setattr(part, name, value)
            counts[COLUMNS[name].heading] += 1
        if "area" in differs:
            part.area_basis = "typed"
        changed += [part] if differs else []
    routes = [part for part in parts if part != like] if route else []
    for what, why in ((held_routes(routes), "quotes, orders or patterns hang on its route"), _there(routes, anew)):
        stays += [(part, f"{why}: the route stays") for part in routes if part.pk in what]
        routes = [part for part in routes if part.pk not in what]
    if like and Operation.objects.filter(part=like, per_kilogram__gt=0).exists():
        stays += [(part, "it has no weight, and the route asks for one") for part in routes if part.mass is None]
        routes = [part for part in routes if part.mass is not None]
    if routes:
        counts["route"] = len(routes)
    return PartsChange(changed, routes, dict(counts), stays)


def _there(routes: Sequence[Part], anew: bool) -> tuple[set[Any], str]:
    return (set() if anew else with_route(routes)), "it has a route already"


def _forbidden(part: Part, differs: Mapping[str, Any], has_coats: bool) -> list[tuple[str, str]]:
    """Of what is asked, the columns that stay, each with why."""
    forbidden = []
    if differs.get("system") and part.stays_bare:
        forbidden.append(("system", "it stays bare, so it has no coating system"))
    elif "system" in differs and has_coats:
        forbidden.append(("system", "coats of its system are in the log already"))
    return forbidden


def _same(one: Any, other: Any) -> bool:
    if hasattr(one, "magnitude") and hasattr(other, "magnitude"):
        return same_number(float(one.magnitude), float(other.magnitude))
    return bool(one == other)
