"""A formula's range is behaviour: outside it there is no answer, only the reason."""

from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass
class OutsideValidity(ValueError):
    """A value outside the range for which a formula is published."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: str

    def __str__(self) -> str:
        return (
            f"{self.name} {self.value:g} {self.unit} is outside {self.low:g} to {self.high:g} {self.unit},"
            f" the range of [{self.source}]"
        )


def within(name: str, value: Any, low: float, high: float, unit: str, source: str) -> None:
    """Raise OutsideValidity for the first value outside low…high; an unknown value (NaN) passes, and stays unknown."""
    numbers = np.atleast_1d(np.asarray(value, dtype=float))
    outside = numbers[(numbers < low) | (numbers > high)]
    if outside.size:
        raise OutsideValidity(name, float(outside[0]), low, high, unit, source)
