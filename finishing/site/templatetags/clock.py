"""Time → text, on the workshop's clock: when something is, how long it takes, how long ago it was."""

from datetime import UTC, datetime, time, timedelta
from math import isfinite
from typing import TypeAlias

import numpy as np
from django import template
from django.utils import timezone

from finishing.science.drying import told
from finishing.science.units import Quantity

register = template.Library()

NEAR_DAYS = {-1: "yesterday", 0: "today", 1: "tomorrow"}
NAMED_DAYS = range(2, 7)  # days ahead for which the weekday alone says which
UNKNOWN = "not known"
When: TypeAlias = datetime | np.datetime64 | str | None  # a datetime64 is UTC; text is what a page has for nothing


@register.filter
def clock(when: When) -> str:
    """{{ piece.coat_before|clock }} → "today 14:20", "tomorrow 09:00", "Thu 14:20", beyond six days with its date."""
    moment = local(when)
    return UNKNOWN if moment is None else f"{_day(moment, short=True)} {clock_time(moment)}"


@register.filter
def clock_day(when: When) -> str:
    """{{ when|clock_day }} → "today", "Friday 9 May": a heading over times of that day."""
    moment = local(when)
    return UNKNOWN if moment is None else _day(moment, short=False)


@register.filter
def short_day(when: When) -> str:
    """{{ when|short_day }} → "today", "Fri", "Fri 22 May": a day in a list."""
    moment = local(when)
    return UNKNOWN if moment is None else _day(moment, short=True)


@register.filter
def weekday(when: When) -> str:
    """{{ when|weekday }} → "Fri": where a picture has no room for more."""
    moment = local(when)
    return UNKNOWN if moment is None else f"{moment:%a}"


@register.simple_tag
def from_until(begin: When, end: When, running: bool = False) -> str:
    """{% from_until span.begin span.end %} → "Thu 10:00–16:00", "Thu 22:00–Fri 02:00", "today 18:00–midnight";
    what has begun already is "now until 16:00"."""
    first, last = local(begin), local(end)
    if first is None or last is None:
        return UNKNOWN
    if running:
        return f"now until {_end(timezone.localtime(), last)}"
    return f"{clock(first)}–{_end(first, last)}"


def _end(first: datetime, last: datetime) -> str:
    if last.date() == first.date():
        return clock_time(last)
    midnight = last.time() == time() and last.date() - first.date() == timedelta(days=1)
    return "midnight" if midnight else clock(last)


@register.filter
def clock_time(when: When) -> str:
    """{{ when|clock_time }} → "14:20"; in the hour that clocks pass twice also which of the two."""
    moment = local(when)
    if moment is None:
        return UNKNOWN
    twice = moment.replace(fold=1 - moment.fold).utcoffset() != moment.utcoffset()
    return f"{moment:%H:%M} {moment.tzname()}" if twice else f"{moment:%H:%M}"


@register.filter
def duration(hours: Quantity | timedelta | float | None) -> str:
    """{{ hours|duration }} → "25 min", "2 h 30 min", "3 days"; takes hours, a timedelta or a quantity of time."""
    long = _hours(hours)
    if long is None or np.isnan(long):
        return UNKNOWN
    return _long(abs(long)) if isfinite(long) else "without end"


@register.filter
def opens_after(hours: Quantity | float | None) -> str:
    """{{ stages.touch|opens_after }} → "5.9 h": a time of drying until something opens, never shorter than it is."""
    return _dried(hours, up=True)


@register.filter
def closes_after(hours: Quantity | float | None) -> str:
    """{{ stages.recoat_until|closes_after }} → "2160 h, 90 days": one until something closes, never longer."""
    return _dried(hours, up=False)


def _dried(hours: Quantity | float | None, up: bool) -> str:
    long = _hours(hours)
    if long is None or np.isnan(long):
        return UNKNOWN
    return told(long, up) if isfinite(long) else "without end"


@register.filter
def ago(when: When) -> str:
    """{{ reading.taken_at|ago }} → "25 min ago"; "in 25 min" for what is still to come."""
    moment = as_datetime(when)
    if moment is None:
        return UNKNOWN
    since = timezone.now() - moment
    if abs(since) < timedelta(minutes=1):
        return "just now"
    words = duration(_coarse(since))
    return f"{words} ago" if since > timedelta() else f"in {words}"


def _coarse(since: timedelta) -> float:
    """Nobody minds the minutes of what was hours ago, or the hours of what was days ago."""
    hours = since / timedelta(hours=1)
    if abs(hours) > 72:
        return 24.0 * round(hours / 24)
    return float(round(hours)) if abs(hours) > 3 else hours


def local(when: When) -> datetime | None:
    """A datetime or a datetime64 in UTC, as the workshop's clock shows it."""
    moment = as_datetime(when)
    return None if moment is None else timezone.localtime(moment)


def as_datetime(when: When) -> datetime | None:
    if isinstance(when, np.datetime64):
        moment: datetime | None = when.astype("datetime64[us]").item()
        return moment and moment.replace(tzinfo=UTC)
    return when if isinstance(when, datetime) else None


def _day(moment: datetime, short: bool) -> str:
    today = timezone.localdate()
    away = (moment.date() - today).days
    if away in NEAR_DAYS:
        return NEAR_DAYS[away]
    weekday = f"{moment:%a}" if short else f"{moment:%A}"
    if short and away in NAMED_DAYS:
        return weekday
    year = "" if moment.year == today.year else f" {moment.year}"
    return f"{weekday} {moment.day} {moment:%b}{year}"


def _hours(value: Quantity | timedelta | float | None) -> float | None:
    if value is None or isinstance(value, str):
        return None
    if isinstance(value, timedelta):
        return value / timedelta(hours=1)
    return float(value.to("hour").magnitude if isinstance(value, Quantity) else value)


def _long(hours: float) -> str:
    minutes = round(hours * 60)
    if minutes < 1:
        return "less than a minute" if hours else "no time"
    if minutes < 60 * 48:
        return _two(minutes // 60, "h", minutes % 60 if minutes < 60 * 24 else 0, "min")
    days, rest = divmod(round(hours), 24)
    return _two(days, "days", rest, "h") if days < 10 else f"{round(hours / 24)} days"


def _two(large: int, unit: str, small: int, small_unit: str) -> str:
    return " ".join(f"{count} {name}" for count, name in ((large, unit), (small, small_unit)) if count)
