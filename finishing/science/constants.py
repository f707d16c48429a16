"""Physical constants and properties of materials: name, symbol, unit, source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Constant:
    """A number from a book, with the symbol it has there, its unit and its source's key."""

    name: str
    symbol: str
    value: float
    unit: str
    source: str


MAGNUS_PRESSURE = Constant("saturation pressure over water at 0 °C", "e_0", 6.1094, "hPa", "AE1996")
MAGNUS_SLOPE = Constant("Magnus slope over water", "a", 17.625, "", "AE1996")
MAGNUS_OFFSET = Constant("Magnus offset over water", "b", 243.04, "°C", "AE1996")
