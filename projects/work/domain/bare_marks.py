"""Of bare iron the two moments to be told of: half its time is gone, and its coat must be on."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from .outlook import Outlook


@dataclass(frozen=True)
class BareMark:
    outlook: Outlook
    half_way: datetime  # between when it became bare and the last stroke
    finish_by: datetime  # the last stroke of its first coat

    @property
    def key(self) -> str:
        """The same as long as the same iron is bare, however the forecast moves its end."""
        return f"{self.outlook.piece.pk} {self.outlook.state.bare_since}"


def bare_marks(outlooks: Iterable[Outlook]) -> list[BareMark]:
    """Of those whose end is known and still to come, the soonest first; what is only not known has no deadline."""
    marks = [
        BareMark(outlook, since + (end - since) / 2, end)
        for outlook in outlooks
        if (since := outlook.state.bare_since)
        and (end := outlook.finish_by)
        and not (outlook.doubtful or outlook.overdue or outlook.state.wet_until_dry)
        and end > outlook.now
    ]
    return sorted(marks, key=lambda mark: mark.finish_by)
