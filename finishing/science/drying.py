"""Drying: a data sheet's times, carried through hours that warm and cool, and the window for the next coat.

A stage is reached when its progress, the sum of Δt / t(T), comes to 1, t(T) being the sheet's time at that temperature.
Stages that open something (touch, handle, dew-safe, recoat from, the end of the closed zone) are slowed by cold, damp,
thick film and additives, and stand still where the air is not known. Stages that close something (the latest recoat,
the beginning of the closed zone) are never lengthened, and run at the sheet's full speed where the air is not known.
A coat may be left to the weather from its dew-safe stage on, which for most types is not touch-dry.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import constants
from .constants import Constant
from .hours import Floats, reaches, total_between
from .sources import COMMON_PRACTICE, DATA_SHEET, OUR_JUDGEMENT
from .units import Quantity
from .working import Working

_ZERO = constants.ZERO_CELSIUS.value

ADDITIVE = Constant(
    "a retarder's or brushing additive's factor where no sheet gives one", "f_a", 1.5, "", COMMON_PRACTICE
)
LETTERS_AT = Constant("temperature of a coating's own wait before lettering", "T_letters", 20.0, "°C", DATA_SHEET)
COLDEST, HOTTEST = -40.0, 80.0  # °C: what a sheet for air drying may name


class DryingStage(StrEnum):
    """What a data sheet gives a time for; its value is the column's name."""

    TOUCH = "touch"
    HANDLE = "handle"
    DEW_SAFE = "dew_safe"
    RECOAT_FROM = "recoat_from"
    RECOAT_UNTIL = "recoat_until"
    CLOSED_FROM = "closed_from"
    CLOSED_UNTIL = "closed_until"


CLOSING = (DryingStage.RECOAT_UNTIL, DryingStage.CLOSED_FROM)
LACQUERS = frozenset({"nitrocellulose", "cellulose enamel"})  # by generic type: dry when their solvent has gone
ZONE = (DryingStage.CLOSED_FROM, DryingStage.CLOSED_UNTIL)
# In one row, the left is over before the right.
IN_ORDER = (
    (DryingStage.TOUCH, DryingStage.HANDLE),
    (DryingStage.RECOAT_FROM, DryingStage.RECOAT_UNTIL),
    (DryingStage.RECOAT_FROM, DryingStage.CLOSED_FROM),
    (DryingStage.CLOSED_FROM, DryingStage.CLOSED_UNTIL),
)


class TableError(ValueError):
    """A drying table that cannot be right; `row` (from 0) and `column` say where, for the form to show it there."""

    def __init__(self, row: int, column: str, message: str) -> None:
        super().__init__(f"Row {row + 1}, {words(column)}: {message}")
        self.row, self.column, self.message = row, column, message


def words(column: str) -> str:
    """A column's name as a person says it."""
    return column.replace("_", " ")


@dataclass(frozen=True)
class SheetRow:
    """One row of a data sheet: hours at a temperature in °C; None where the sheet is silent.

    basis: by stage, where its time comes from; a key of science.sources, or a workshop's own words.
    """

    temperature: float
    touch: float | None = None
    handle: float | None = None
    recoat_from: float | None = None
    recoat_until: float | None = None
    closed_from: float | None = None
    closed_until: float | None = None
    dew_safe: float | None = None
    basis: Mapping[str, str] = field(default_factory=dict, compare=False)

    def hours(self, stage: DryingStage) -> float | None:
        """The sheet's time for this stage."""
        return getattr(self, stage)  # type: ignore[no-any-return]


@dataclass(frozen=True)
class DryingTable:
    """A sheet's rows from cold to hot, and what else it says about drying.

    floor: °C at and below which the paint makes no progress · sheet_humidity: % at which the times hold ·
    sheet_film: dry film (µm) at which they hold · needs_dry_air: water leaves the film (waterborne types)
    generic_type: a type of paint as overcoating knows it; the most careful one where none is given.
    """

    points: tuple[SheetRow, ...]
    floor: float
    sheet_humidity: float = 50.0
    sheet_film: float | None = None
    needs_dry_air: bool = False
    generic_type: str = ""

    def __post_init__(self) -> None:
        check(self.points)
        if not self.sheet_humidity < 100:
            raise ValueError("the sheet's humidity lies below 100 %")

    def gives(self, stage: DryingStage) -> bool:
        """Whether the sheet has a time for this stage."""
        return any(point.hours(stage) is not None for point in self.points)

    @staticmethod
    def source(stage: DryingStage, point: SheetRow) -> str:
        """Where a row's time for this stage comes from."""
        return point.basis.get(stage, DATA_SHEET)

    def first_given(self, *stages: DryingStage) -> DryingStage:
        """The first of these stages that the sheet has a time for, else the next coat, which every sheet gives."""
        return next(filter(self.gives, stages), DryingStage.RECOAT_FROM)

    @property
    def set_stage(self) -> DryingStage:
        """Until when air and metal must be as the sheet asks: touch-dry."""
        return self.first_given(DryingStage.TOUCH)

    @property
    def dew_safe_stage(self) -> DryingStage:
        """From when on a coat bears dew and rain: as its sheet says, else by its generic type.

        lacquer, cellulose   touch-dry
        all others           may be handled, else the end of the closed zone, else the next coat
        Water on a softer film dulls and spots it.  Basis: [common practice]; the closed zone's end [our judgement].

        >>> enamel = (SheetRow(20, touch=5, recoat_from=16),)
        >>> for_type = (DryingTable(enamel, floor=5, generic_type=name) for name in ("alkyd enamel", "nitrocellulose"))
        >>> [str(table.dew_safe_stage) for table in for_type]
        ['recoat_from', 'touch']
        """
        if self.generic_type in LACQUERS:
            return self.first_given(DryingStage.DEW_SAFE, DryingStage.TOUCH)
        return self.first_given(DryingStage.DEW_SAFE, DryingStage.HANDLE, DryingStage.CLOSED_UNTIL)

    def column(self, stage: DryingStage) -> tuple[Floats, Floats]:
        """Temperatures and hours of the rows that give this stage; ValueError where none does."""
        rows = [(point.temperature, point.hours(stage)) for point in self.points if point.hours(stage) is not None]
        if not rows:
            raise ValueError(f"the data sheet gives no time for {words(stage)!r}")
        temperatures, times = np.array(rows, dtype=float).T
        return temperatures, times


def check(points: Sequence[SheetRow]) -> None:
    """Raise the first TableError of a table, if it has one."""
    for error in errors(points):
        raise error


def errors(points: Sequence[SheetRow]) -> Iterator[TableError]:
    """All that cannot be right in a table, row by row, for a form to show each at its field."""
    for row, point in enumerate(points):
        yield from _errors_in(row, point)
    for row, (colder, warmer) in enumerate(pairwise(points), start=1):
        if not warmer.temperature > colder.temperature:
            yield TableError(row, "temperature", "rows go from cold to hot, each warmer than the one above")
    for stage in DryingStage:
        yield from _errors_down(stage, points)
    if not any(point.recoat_from is not None for point in points):
        yield TableError(0, DryingStage.RECOAT_FROM, "at least one row says when the next coat may go on")


def _errors_in(row: int, point: SheetRow) -> Iterator[TableError]:
    if not COLDEST <= point.temperature <= HOTTEST:
        yield TableError(row, "temperature", f"lies between {COLDEST:g} and {HOTTEST:g} °C")
    for stage in DryingStage:
        hours = point.hours(stage)
        if hours is not None and not 0 < hours < np.inf:
            yield TableError(row, stage, "is a number of hours above 0")
    for first, then in IN_ORDER:
        early, late = point.hours(first), point.hours(then)
        if early is not None and late is not None and early > late:
            yield TableError(row, then, f"{late:g} h is before {words(first)}, {early:g} h")
    for one, other in (ZONE, ZONE[::-1]):
        if point.hours(one) is None and point.hours(other) is not None:
            yield TableError(row, one, f"a closed zone has two ends, and only {words(other)} is given")


def _errors_down(stage: DryingStage, points: Sequence[SheetRow]) -> Iterator[TableError]:
    given = [(row, hours) for row, point in enumerate(points) if (hours := point.hours(stage)) is not None]
    for (_, colder), (row, warmer) in pairwise(given):
        if warmer > colder:
            yield TableError(row, stage, f"{warmer:g} h is longer than {colder:g} h in a colder row")


def hours_at(table: DryingTable, stage: DryingStage, temperature: ArrayLike) -> Floats:
    """The sheet's time for a stage at steady temperatures (°C), in hours; NaN where the temperature is.

    Between two rows   ln t = ln t₁ + (ln t₂ − ln t₁) · (1/T − 1/T₁) / (1/T₂ − 1/T₁),  T in kelvin
    colder than all    opening: t = t_coldest · q^((T_coldest − T)/10)       closing: t_coldest, never longer
    hotter than all    opening: t_hottest, never shorter                     closing: t_hottest · q^((T_hottest − T)/10)
    q = 2, and 1.7 for the two ends of the closed zone, which therefore only ever widens.
    Valid for any air; ValueError where no row gives the stage.
    Source: the Arrhenius form; q = 2 [DRYING-THUMB], q = 1.7 [our judgement].

    >>> enamel = DryingTable((SheetRow(10, recoat_from=30), SheetRow(40, recoat_from=9)), floor=5)
    >>> hours_at(enamel, DryingStage.RECOAT_FROM, [0, 23, 50]).round(1).tolist()
    [60.0, 17.3, 9.0]
    """
    temperatures, times = table.column(stage)
    air = np.asarray(temperature, float)
    inverse = -1 / (temperatures + _ZERO)  # rises with temperature, as np.interp wants
    between = np.exp(np.interp(-1 / (air + _ZERO), inverse, np.log(times)))
    q = constants.CLOSED_ZONE_WIDENING.value if stage in ZONE else constants.DRYING_Q10.value
    colder = np.minimum(temperatures[-1] - air, 0) if stage in CLOSING else np.maximum(temperatures[0] - air, 0)
    return np.asarray(between * q ** (colder / 10))


def damp_factor(table: DryingTable, humidity: ArrayLike) -> Floats:
    """How much slower water leaves the film than at the sheet's humidity; 1 for types that do not need dry air.

    f = (100 − RH_sheet) / (100 − RH), at least 1
    Valid from 0 to 100 %, where it is infinite.  Basis: [our judgement]; > 90 % extremely slow [WATERBORNE-DRYING].

    >>> damp_factor(DryingTable((SheetRow(23, recoat_from=4),), floor=7, needs_dry_air=True), [30, 80, 90]).tolist()
    [1.0, 2.5, 5.0]
    """
    damp = np.asarray(humidity, float)
    if not table.needs_dry_air:
        return np.ones_like(damp)
    with np.errstate(divide="ignore"):
        return np.asarray(np.maximum((100 - table.sheet_humidity) / (100 - damp), 1.0))


def slowing(table: DryingTable, dry_film: ArrayLike | None = None, additive: ArrayLike = 1.0) -> Floats:
    """How much slower a thick film (µm, dry) and an additive make the opening stages.

    f = max(1, (film / film of the sheet)²) · additive
    Valid for an additive of 1 and more, else ValueError; a sheet without a film thickness leaves film out.
    Basis: [common practice].

    >>> float(slowing(DryingTable((SheetRow(20, recoat_from=16),), floor=5, sheet_film=50), dry_film=75))
    2.25
    """
    if not np.all(np.asarray(additive) >= 1):
        raise ValueError("an additive never quickens drying: its factor is 1 or more")
    film = 1.0 if dry_film is None or table.sheet_film is None else np.asarray(dry_film) / table.sheet_film
    return np.asarray(np.maximum(film, 1.0) ** 2 * np.asarray(additive))


def rate(
    table: DryingTable, stage: DryingStage, temperature: ArrayLike, humidity: ArrayLike, slower: ArrayLike = 1.0
) -> Floats:
    """Progress toward a stage in each hour, per hour: (p, n) or (n), from °C and % at each hour.

    opening   1 / (t(T) · f_damp · slower); 0 at and below the paint's floor, and where the air is not known
    closing   1 / t(T); that of the sheet's hottest row where the air is not known
    temperature: the metal's, or the air's where that is not known. slower: from `slowing`, a number or (p).

    >>> enamel = DryingTable((SheetRow(20, recoat_from=16, recoat_until=48),), floor=5)
    >>> rate(enamel, DryingStage.RECOAT_FROM, [20, 4, float("nan")], 50).round(4).tolist()
    [0.0625, 0.0, 0.0]
    """
    metal = np.asarray(temperature, float)
    if stage in CLOSING:
        known = 1 / hours_at(table, stage, metal)
        return np.where(np.isnan(metal), 1 / table.column(stage)[1][-1], known)
    factor = damp_factor(table, humidity) * np.asarray(slower, float)[..., None]
    progress = 1 / (hours_at(table, stage, metal) * factor)
    return np.where((metal > table.floor) & ~np.isnan(progress), progress, 0.0)


def dried(
    table: DryingTable,
    stage: DryingStage,
    temperature: ArrayLike,
    humidity: ArrayLike,
    begin: ArrayLike = 0.0,
    slower: ArrayLike = 1.0,
    share: float = 1.0,
) -> Any:
    """When a coat reaches a stage, or a share of the way there, in hours after the start of the run.

    begin: when the coat was on, as in hours.reaches: a number, or an array whose last axis is starts, (m) or (p, 1).
    inf where the run ends first.

    >>> enamel = DryingTable((SheetRow(20, recoat_from=16),), floor=5)
    >>> round(float(dried(enamel, DryingStage.RECOAT_FROM, [20] * 12 + [10] * 12, 50)), 2)
    20.0
    """
    return reaches(rate(table, stage, temperature, humidity, slower), share, begin)


def dried_carried_on(here: Floats, there: Floats, begin: Floats, carried: Floats) -> Floats:
    """When a coat reaches a stage that is carried to another place on the way; (m), hours after the start of the run.

    here, there: progress toward the stage by hour (n) in each place, from `rate` · begin, carried: when it was on and
    was carried, (m) each; carried inf: never. inf where it is not reached within the run. Progress while it is being
    carried counts as in the second place.

    >>> slow, quick = np.full(48, 1 / 6), np.full(48, 1 / 3)
    >>> dried_carried_on(slow, quick, np.array([0.0, 0.0]), np.array([4.0, 12.0])).round(2).tolist()
    [5.0, 6.0]
    """
    early = reaches(here, 1.0, begin)
    left = np.maximum(1 - total_between(here, begin, carried), 0.0)
    late = reaches(there, left, np.where(np.isfinite(carried), carried, np.nan))
    return np.where(early <= carried, early, np.where(np.isnan(late), np.inf, late))


def lettering_share(table: DryingTable, wait: float | None) -> float:
    """How far on the way to its recoat time a coat must be before a brush may letter over it.

    wait: the coating's own before lettering, hours at 20 °C, which stretches as its recoat time stretches; None: as
    long as before a coat.

    >>> enamel = DryingTable((SheetRow(20, recoat_from=16),), floor=5)
    >>> round(lettering_share(enamel, 24), 2), lettering_share(enamel, None)
    (1.5, 1.0)
    """
    return 1.0 if wait is None else wait / float(hours_at(table, DryingStage.RECOAT_FROM, LETTERS_AT.value))


@dataclass(frozen=True, eq=False)
class RecoatWindow:
    """When the next coat may go on: from opens to closed_from, and from closed_until to closes.

    Hours after the start of the run, one for each piece and begin. inf: not within the run. NaN: the sheet has none.
    """

    opens: Any
    closed_from: Any
    closed_until: Any
    closes: Any

    @classmethod
    def from_then_on(cls, opens: ArrayLike) -> "RecoatWindow":
        """A window that never closes."""
        return cls(opens, np.nan, np.nan, np.nan)

    @classmethod
    def narrowest(cls, windows: "Sequence[RecoatWindow]") -> "RecoatWindow":
        """Over several coats at once, each with a single window: open when all are, shut when any is.

        >>> enamel, primer = RecoatWindow(1.0, 4.0, 24.0, np.nan), RecoatWindow(2.0, np.nan, np.nan, 48.0)
        >>> RecoatWindow.narrowest([enamel, primer])
        RecoatWindow(opens=2.0, closed_from=4.0, closed_until=24.0, closes=48.0)
        """
        opens, closed_from, closed_until, closes = np.array([list(vars(window).values()) for window in windows]).T
        ends = np.fmin.reduce(closed_from), np.fmax.reduce(closed_until), np.fmin.reduce(closes)  # NaN: it has none
        return cls(float(opens.max()), *(float(end) for end in ends))

    def not_before(self, position: float) -> "RecoatWindow":
        """The same, opened no sooner."""
        return replace(self, opens=np.maximum(self.opens, position))

    def spans(self) -> list[tuple[float, float]]:
        """The open times of one piece, as (from, until)."""
        ends = [float(np.nan_to_num(end, nan=np.inf)) for end in (self.closed_from, self.closed_until, self.closes)]
        zone, over, last = ends
        opens = float(self.opens)
        after = [] if np.isinf(zone) else [(max(opens, over), last)]
        return [(first, until) for first, until in [(opens, min(zone, last)), *after] if first < until]


def recoat_window(
    table: DryingTable,
    temperature: ArrayLike,
    humidity: ArrayLike,
    begin: ArrayLike = 0.0,
    slower: ArrayLike = 1.0,
) -> RecoatWindow:
    """The window for the next coat over one that was on at `begin`; arguments as for `dried`.

    >>> enamel = DryingTable((SheetRow(20, recoat_from=1, closed_from=4, closed_until=24),), floor=5)
    >>> recoat_window(enamel, [20.0] * 48, 50).spans()
    [(1.0, 4.0), (24.0, inf)]
    """
    opens = dried(table, DryingStage.RECOAT_FROM, temperature, humidity, begin, slower)

    def when(stage: DryingStage) -> Any:
        if not table.gives(stage):
            return np.full_like(opens, np.nan)
        return dried(table, stage, temperature, humidity, begin, slower)

    return RecoatWindow(
        opens, when(DryingStage.CLOSED_FROM), when(DryingStage.CLOSED_UNTIL), when(DryingStage.RECOAT_UNTIL)
    )


@dataclass(frozen=True)
class DryingHour:
    """What one hour, or the part of it in which the coat dried, brought it on: positions in the run, shares of 1."""

    begin: float
    end: float
    temperature: float  # °C
    humidity: float  # %
    rate: float  # per hour
    so_far: float

    @property
    def hour(self) -> int:
        return int(self.begin)

    @property
    def cells(self) -> tuple[str, ...]:
        """As DRYING_LEDGER heads them; shares to 0.001, so that they can be summed by hand."""
        asked, gained = f"{1 / self.rate:.2f} h" if self.rate else "no progress", self.rate * (self.end - self.begin)
        air = f"{self.temperature:.1f} °C", f"{self.humidity:.0f} %"
        return tuple(text.replace("nan", "?") for text in (*air, asked, f"{gained:.3f}", f"{self.so_far:.3f}"))


DRYING_LEDGER = ("metal", "humidity", "asked", "gained", "so far")
LONGEST_LEDGER = 96  # hours


def drying_ledger(
    table: DryingTable, stage: DryingStage, temperature: Floats, humidity: Floats, begin: float, slower: float = 1.0
) -> list[DryingHour]:
    """How a coat came to a stage, hour by hour from `begin` (hours after the start of the run) on: Σ gained = 1.

    Arguments as for `dried`, of one piece. It ends with the run, or after four days.

    >>> enamel = DryingTable((SheetRow(20, recoat_from=2),), floor=5)
    >>> [row.so_far for row in drying_ledger(enamel, DryingStage.RECOAT_FROM, np.full(9, 20.0), np.full(9, 50.0), 0.5)]
    [0.25, 0.75, 1.0]
    """
    speed = rate(table, stage, temperature, humidity, slower)
    done = float(dried(table, stage, temperature, humidity, begin, slower))
    last, so_far, rows = min(done, float(len(speed)), begin + LONGEST_LEDGER), 0.0, []
    for hour in range(int(begin), int(np.ceil(last))):
        first, end = max(begin, float(hour)), min(last, hour + 1.0)
        so_far += float(speed[hour]) * (end - first)
        rows.append(DryingHour(first, end, temperature[hour], humidity[hour], float(speed[hour]), so_far))
    return rows


def drying_working(
    table: DryingTable, stage: DryingStage, temperature: Any, humidity: Any, slower: float = 1.0
) -> Working:
    """What a page opens behind a time at steady air; quantities in. Its source is that of the rows that were used, and
    where they have several the weakest: what is worked out between a book's time and our judgement is our judgement.

    >>> enamel = DryingTable((SheetRow(10, touch=10, recoat_from=30), SheetRow(40, recoat_from=9)), floor=5)
    >>> drying_working(enamel, DryingStage.RECOAT_FROM, Quantity(23, "degC"), Quantity(50, "percent")).result
    '17.3 h'
    >>> primer = DryingTable((SheetRow(20, recoat_from=18, recoat_until=2160),), floor=5)
    >>> drying_working(primer, DryingStage.RECOAT_UNTIL, Quantity(20, "degC"), Quantity(50, "percent")).result
    '2160 h, 90 days'
    """
    celsius = round(float(Quantity(temperature).to("degC").magnitude), 2)  # as printed: by hand it comes out the same
    percent = round(float(Quantity(humidity).to("percent").magnitude), 2)
    damp, slower = round(float(damp_factor(table, percent)), 4), round(slower, 4)
    opens = stage not in CLOSING
    hours = float(hours_at(table, stage, celsius)) * (damp * slower if opens else 1.0)
    rule, used = _rule(table, stage, celsius)
    sources = [table.source(stage, point) for point in used]
    source = next((weakest for weakest in WEAKEST_FIRST if weakest in sources), sources[0])
    rows = [point for point in table.points if point.hours(stage) is not None]
    factors = [
        ("humidity", f"{percent:g} %"),
        ("factor for damp air", f"{damp:g}"),
        ("factor for film and additive", f"{slower:g}"),
    ]
    if opens and celsius <= table.floor:
        result = f"no progress: {table.floor:g} °C is the paint's floor"
    else:
        result = told(hours, up=opens) if np.isfinite(hours) else "no progress in air this damp"
    return Working(
        name=words(stage).capitalize(),
        formula=rule + (" · damp · film and additive" if opens else ""),
        inputs=(
            ("temperature", f"{celsius:g} °C"),
            *(factors if opens else []),
            *((f"sheet at {point.temperature:g} °C", _row_told(point, stage, source)) for point in rows),
        ),
        result=result,
        source=source,
        note="The sheet of the tin in hand comes before this; try a patch where a coat may lift.",
    )


WEAKEST_FIRST = (OUR_JUDGEMENT, COMMON_PRACTICE, DATA_SHEET)


def _rule(table: DryingTable, stage: DryingStage, celsius: float) -> tuple[str, list[SheetRow]]:
    """The rule that hours_at followed for this stage at this temperature, and the rows it was followed from."""
    rows = [point for point in table.points if point.hours(stage) is not None]
    coldest, hottest, closing = rows[0], rows[-1], stage in CLOSING
    q = constants.CLOSED_ZONE_WIDENING if stage in ZONE else constants.DRYING_Q10
    if celsius < coldest.temperature:
        if closing:
            return "t = t of the coldest row: never lengthened in the cold", [coldest]
        return f"t = t of the coldest row · {q.value:g}^((T_coldest − T) / 10)   [{q.source}]", [coldest]
    if celsius > hottest.temperature:
        if closing:
            return f"t = t of the hottest row / {q.value:g}^((T − T_hottest) / 10)   [{q.source}]", [hottest]
        return "t = t of the hottest row: never shortened in the heat", [hottest]
    if exact := [point for point in rows if point.temperature == celsius]:
        return "t = t of the row", exact
    above = next(number for number, point in enumerate(rows) if point.temperature > celsius)
    between = "ln t = ln t₁ + (ln t₂ − ln t₁) · (1/T − 1/T₁) / (1/T₂ − 1/T₁), T in kelvin"
    return between, rows[above - 1 : above + 1]


def _row_told(point: SheetRow, stage: DryingStage, source: str) -> str:
    own = DryingTable.source(stage, point)
    return f"{point.hours(stage):g} h" + (f", {own}" if own != source else "")


def told(hours: float, up: bool = True) -> str:
    """Hours in words, those until something opens never shorter than they are, those until it closes never longer.

    Nobody counts three months in hours.

    >>> told(17.21), told(17.21, up=False), told(100), told(0.417)
    ('17.3 h', '17.2 h', '100 h, 4.2 days', '0.42 h')
    """
    digits = 2 if hours < 1 else 1 if hours < 48 else 0
    whole = ceil(hours * 10**digits - 1e-6) if up else floor(hours * 10**digits + 1e-6)
    shown = f"{whole / 10**digits:g} h"
    return shown if hours < 48 else f"{shown}, {round(hours / 24, 1):g} days"
