"""The outside air, one file a source, the same verbs: get_… (network), parse_… (text → hours)."""

from dataclasses import dataclass
from datetime import datetime

from finishing.science.hours import Hours


class WeatherUnavailable(Exception):
    """A source gave no weather; `reason` says why in words that may be shown to a person."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class ServiceHours:
    """The hours that a service sent, what was refused because it cannot be true, and when the service made them;
    None where it does not say."""

    hours: Hours
    refused: tuple[str, ...]
    issued: datetime | None = None
