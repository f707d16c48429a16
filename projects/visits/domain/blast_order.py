"""In which order pieces are blasted: first those on which the coat may follow soonest, large ones together."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from finishing.science.windows import Gates
from projects.record.models.stages import read_log
from projects.record.models.steps import Step
from projects.work.domain.outlook import Outlook

LAST_DAY = 24  # hours before the end of what is known in which a blasting is no longer thought through


@dataclass(frozen=True, eq=False)
class Following:
    """A piece as if it were blasted from `begins` to `ends`: whether it may be, and when its first coat follows."""

    before: Outlook  # as it stands now
    begins: datetime
    ends: datetime
    wet: bool = False

    @cached_property
    def after(self) -> Outlook:
        """The outlook at the end of the blasting, where it stands."""
        piece = self.before.piece
        entry = Step(
            piece=piece,
            kind=Step.Kind.BLASTED,
            happened_at=self.ends,
            entered_at=self.ends,
            wet_work=self.wet,
        )
        layers = piece.part.system.layers.all() if piece.part.system else ()
        state = read_log([*piece.steps.all(), entry], layers, piece.part.has_letters)
        return Outlook(piece, state, self.before.path, self.ends, self.before.working, self.before.air)

    @property
    def known(self) -> bool:
        """Whether its air is known while it is blasted; beyond the forecast nothing is said."""
        hours = range(*self._hours)
        within = self._hours[1] < len(self.before.path.metal) - LAST_DAY
        return within and not np.isnan(self.before.path.margin[hours]).any()

    @property
    def _hours(self) -> tuple[int, int]:
        first, last = (float(self.before.path.hours.position(when)) for when in (self.begins, self.ends))
        return max(0, int(first)), max(0, int(last)) + 1

    @cached_property
    def cold_until(self) -> datetime | None:
        """Until when its metal lies within 3 °C of the dew point, where it does when its turn comes."""
        first = self._hours[0]
        fine = self.before.path.margin[first:] >= Gates().margin
        if fine[0]:
            return None
        ahead = int(np.argmax(fine)) if fine.any() else len(fine)
        return self.before.moment(first + ahead)

    @property
    def coat_from(self) -> datetime | None:
        """When its first coat may begin; None where no hour before it rusts allows one."""
        return self.after.next_span[0] if self.after.next_coating and self.after.next_span else None

    @property
    def coat_before(self) -> datetime | None:
        return self.after.coat_before_at


def in_order(rows: Iterable[Any], ahead: dict[Any, Following]) -> list[Any]:
    """Rows of a visit in the order of their blasting; `ahead` has each that waits, as if it came first.

    A place in the order that somebody typed stands; the others follow.
    """
    return sorted(rows, key=lambda row: (*_typed(row), *_soonest(ahead.get(row.piece_id)), *_largest(row)))


def _typed(row: Any) -> tuple[bool, int]:
    return row.position is None, row.position or 0


def _soonest(following: Following | None) -> tuple[float]:
    """By the hour: within one hour size decides."""
    if following is None or not following.known or following.coat_from is None:
        return (float("inf"),)
    return (following.coat_from.timestamp() // 3600,)


def _largest(row: Any) -> tuple[float, str]:
    area = row.piece.part.area
    return (-area.magnitude if area is not None else 0.0), row.piece.mark


def moved(following: Following, begins: datetime, minutes: int) -> Following:
    """The same piece when its turn comes."""
    return replace(following, begins=begins, ends=begins + timedelta(minutes=minutes))
