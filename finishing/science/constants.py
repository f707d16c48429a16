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
VAPOUR_CONTENT = Constant(
    "water in a cubic metre per hPa and kelvin, 100 000 / R_v", "C", 216.674, "g·K/(m³·hPa)", "psychrometrics"
)
ZERO_CELSIUS = Constant("0 °C in kelvin", "T_0", 273.15, "K", "SI")

GREY_IRON_DENSITY = Constant("density of grey cast iron", "ρ", 7200.0, "kg/m³", "METAL-DENSITIES")
DUCTILE_IRON_DENSITY = Constant("density of ductile cast iron", "ρ", 7100.0, "kg/m³", "METAL-DENSITIES")
STEEL_DENSITY = Constant("density of steel", "ρ", 7850.0, "kg/m³", "METAL-DENSITIES")
BRASS_DENSITY = Constant("density of brass", "ρ", 8500.0, "kg/m³", "METAL-DENSITIES")
BRONZE_DENSITY = Constant("density of bronze", "ρ", 8800.0, "kg/m³", "METAL-DENSITIES")
ALUMINIUM_DENSITY = Constant("density of aluminium", "ρ", 2700.0, "kg/m³", "METAL-DENSITIES")

DRYING_Q10 = Constant("a paint dries this much slower for 10 °C less", "Q_10", 2.0, "", "DRYING-THUMB")
CLOSED_ZONE_WIDENING = Constant(
    "the closed zone of an oxidising enamel widens this much for 10 °C", "f_10", 1.7, "", "our judgement"
)
