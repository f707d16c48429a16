"""Times as loggers write them: day first or month first, hours that clocks skip or pass twice, clocks that jump."""

import re
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone, tzinfo

from finishing.science.working import day_told

FORM = re.compile(
    r"""(?: (?P<year>\d{4}) [-/.] (?P<month>\d{1,2}) [-/.] (?P<day>\d{1,2})
          | (?P<first>\d{1,2}) (?P<mark>[-/.]) (?P<second>\d{1,2}) (?P=mark) (?P<end>\d{4}|\d{2}) )
        [T,\s]+ (?P<hour>\d{1,2}) [:.h] (?P<minute>\d{2}) (?: [:.] (?P<seconds>\d{2}) (?: [.,]\d+ )? )?
        \s* (?: (?P<half>[ap]) \.? m \.? )?
        \s* (?P<offset> z | utc | gmt | [+-]\d{2}:?\d{2} )?""",
    re.VERBOSE | re.IGNORECASE,
)


YEARS = range(1970, 2101)


@dataclass(frozen=True)
class Stamp:
    """A date and time as a line has it; `numbers` are the date's three, in the order in which they are written."""

    line: int
    numbers: tuple[int, int, int]
    order: str  # "ymd", "dmy", or "?" where only the other lines can tell day from month
    minutes: timedelta
    zone: tzinfo | None

    def local(self, day_first: bool) -> datetime:
        first, second, last = self.numbers
        if self.order == "ymd":
            year, month, day = self.numbers
        else:
            year = last if last > 99 else 2000 + last
            day, month = (first, second) if self.order == "dmy" or day_first else (second, first)
        if year not in YEARS:
            raise ValueError("no logger was made then")
        return datetime(year, month, day) + self.minutes


@dataclass(frozen=True)
class Settled:
    """Line → its time in UTC, or why it has none; and what a person should know about the file's clock."""

    times: dict[int, datetime] = field(default_factory=dict)
    refused: dict[int, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    ambiguous_dates: bool = False


def parse_stamp(line: int, text: str) -> Stamp:
    """ISO 8601, or day and month in either order; a dot between them is written only day first."""
    written = FORM.fullmatch(text.strip())
    if not written:
        raise ValueError(f"“{text.strip()[:30]}” is no date and time")
    part = written.groupdict()
    iso = part["year"] is not None
    numbers = [int(part[name]) for name in (("year", "month", "day") if iso else ("first", "second", "end"))]
    order = "ymd" if iso else "dmy" if part["mark"] == "." else "?"
    return Stamp(line, (numbers[0], numbers[1], numbers[2]), order, _minutes(part), _zone(part["offset"]))


def _minutes(part: dict[str, str | None]) -> timedelta:
    hour, minute, seconds = (int(part[name] or 0) for name in ("hour", "minute", "seconds"))
    if hour > (12 if part["half"] else 23) or minute > 59 or seconds > 59:
        raise ValueError(f"{hour:02}:{minute:02} is no time of day")
    if part["half"]:
        hour = hour % 12 + (12 if part["half"].lower() == "p" else 0)
    return timedelta(hours=hour, minutes=minute, seconds=seconds)


def _zone(offset: str | None) -> tzinfo | None:
    if offset is None or offset[0] not in "+-":
        return UTC if offset else None
    away = timedelta(hours=int(offset[1:3]), minutes=int(offset[-2:]))
    return timezone(away if offset[0] == "+" else -away)


def settle(stamps: Sequence[Stamp], zone: tzinfo, day_first: bool | None = None) -> Settled:
    """Every line's time in UTC. `zone` holds where a line does not name its own; without `day_first` the lines show
    in which order their dates are written."""
    if day_first is None:
        day_first = _most_day_first(stamps)
    undecided = day_first is None and any(stamp.order == "?" for stamp in stamps)
    settled = Settled(ambiguous_dates=undecided)
    if undecided:
        settled.notes.append("Day and month cannot be told apart in this file's dates; they were read day first.")
    local: dict[int, tuple[datetime, tzinfo]] = {}
    for stamp in stamps:
        try:
            local[stamp.line] = stamp.local(day_first is not False), stamp.zone or zone
        except ValueError:
            settled.refused[stamp.line] = "there is no such date"
    _to_utc(settled, _oldest_first(settled, local))
    _put_in_order(settled)
    return settled


def _most_day_first(stamps: Sequence[Stamp]) -> bool | None:
    """A number over 12 is a day; where lines disagree most of them decide and the others are refused."""
    open_dates = [stamp.numbers for stamp in stamps if stamp.order == "?"]
    votes = sum((first > 12) - (second > 12) for first, second, _ in open_dates)
    return votes > 0 if votes else None


def _oldest_first(settled: Settled, local: dict[int, tuple[datetime, tzinfo]]) -> dict[int, tuple[datetime, tzinfo]]:
    moments = [moment for moment, _ in local.values()]
    steps = sum((later > earlier) - (later < earlier) for earlier, later in zip(moments, moments[1:], strict=False))
    if steps >= 0:
        return local
    settled.notes.append("The newest line stands first; the file was read from its end.")
    return dict(reversed(local.items()))


def _to_utc(settled: Settled, local: dict[int, tuple[datetime, tzinfo]]) -> None:
    twice, before = [], datetime.min.replace(tzinfo=UTC)
    for line, (moment, zone) in local.items():
        first, second = (moment.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
        if first.astimezone(zone).replace(tzinfo=None) != moment:
            settled.refused[line] = (
                f"{moment:%H:%M} does not exist on {day_told(moment)}: clocks go forward over it"
                " (a logger that stays on winter time needs that as its time zone)"
            )
            continue
        if second > first:
            twice.append(line)
        # In the hour that clocks pass twice, the second pass begins where the time would repeat itself.
        before = settled.times[line] = second if first <= before < second else first
    if twice:
        settled.notes.append(
            f"{len(twice)} lines from line {min(twice)} stand in the hour that clocks pass twice in autumn:"
            " they count as its first pass until the time repeats itself, then as its second."
        )


def _put_in_order(settled: Settled) -> None:
    lines, times = list(settled.times), list(settled.times.values())
    _note_jumps(settled, lines, times)
    kept = _longest_rise(times)
    at = {times[index]: lines[index] for index in kept}
    for index in set(range(len(times))) - set(kept):
        twin = at.get(times[index])
        del settled.times[lines[index]]
        settled.refused[lines[index]] = (
            f"has the time of line {twin} again" if twin else "its time is out of order: the clock jumps"
        )


def _note_jumps(settled: Settled, lines: list[int], times: list[datetime]) -> None:
    jumps = [index for index in range(1, len(times)) if times[index] < times[index - 1]]
    if jumps:
        index = jumps[0]
        settled.notes.append(
            f"The clock jumps back {len(jumps)} times, first at line {lines[index]}:"
            f" from {_shown(times[index - 1])} to {_shown(times[index])} UTC."
            " The longest run of lines that fits together was kept; look whether the logger was set right."
        )


def _longest_rise(times: list[datetime]) -> list[int]:
    """Indexes of the longest run of times that only rise: one wrong line costs one line, not all that follow."""
    ends: list[int] = []  # the last index of the best run of each length
    behind: list[int] = []
    at: Callable[[int], datetime] = times.__getitem__
    for index, moment in enumerate(times):
        length = bisect_left(ends, moment, key=at)
        behind.append(ends[length - 1] if length else -1)
        if length == len(ends):
            ends.append(index)
        elif times[ends[length]] > moment:
            ends[length] = index
    run, index = [], ends[-1] if ends else -1
    while index >= 0:
        run.append(index)
        index = behind[index]
    return run[::-1]


def _shown(moment: datetime) -> str:
    return f"{day_told(moment)} {moment:%H:%M}"
