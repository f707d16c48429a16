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

STEFAN_BOLTZMANN = Constant("Stefan–Boltzmann constant", "σ", 5.670374e-8, "W/(m²·K⁴)", "SI")
GREY_IRON_HEAT_CAPACITY = Constant("heat capacity of grey iron, 450 to 490", "c", 460.0, "J/(kg·K)", "GREY-IRON")
DUCTILE_IRON_HEAT_CAPACITY = Constant("heat capacity of ductile iron", "c", 470.0, "J/(kg·K)", "METAL-HEAT")
STEEL_HEAT_CAPACITY = Constant("heat capacity of steel, 434 to 490", "c", 470.0, "J/(kg·K)", "METAL-HEAT")
BRASS_HEAT_CAPACITY = Constant("heat capacity of brass", "c", 380.0, "J/(kg·K)", "METAL-HEAT")
BRONZE_HEAT_CAPACITY = Constant("heat capacity of bronze", "c", 380.0, "J/(kg·K)", "METAL-HEAT")
ALUMINIUM_HEAT_CAPACITY = Constant("heat capacity of aluminium", "c", 900.0, "J/(kg·K)", "METAL-HEAT")
GREY_IRON_CONDUCTIVITY = Constant("conductivity of grey iron, 46 to 58", "k", 46.0, "W/(m·K)", "GREY-IRON")
DUCTILE_IRON_CONDUCTIVITY = Constant("conductivity of ductile iron", "k", 33.0, "W/(m·K)", "METAL-HEAT")
STEEL_CONDUCTIVITY = Constant("conductivity of carbon steel, 50 to 64", "k", 50.0, "W/(m·K)", "METAL-HEAT")
BRASS_CONDUCTIVITY = Constant("conductivity of brass", "k", 110.0, "W/(m·K)", "METAL-HEAT")
BRONZE_CONDUCTIVITY = Constant("conductivity of bronze", "k", 50.0, "W/(m·K)", "METAL-HEAT")
ALUMINIUM_CONDUCTIVITY = Constant("conductivity of cast aluminium", "k", 150.0, "W/(m·K)", "METAL-HEAT")

STILL_INDOOR_EXCHANGE = Constant("heat to still indoor air and walls, 1 / 0.13", "h", 8.0, "W/(m²·K)", "ISO-6946")
FAN_EXCHANGE = Constant("heat to indoor air with a fan or open doors", "h", 12.0, "W/(m²·K)", "common practice")
OUTDOOR_STILL = Constant("convection outdoors in calm, 4 + 4v", "h_c", 4.0, "W/(m²·K)", "ISO-6946")
OUTDOOR_BY_WIND = Constant("convection outdoors by wind, 4 + 4v", "h_c/v", 4.0, "W/(m²·K) by m/s", "ISO-6946")
SKY_CONSTANT = Constant("emissivity of a clear sky at a dew point of 0 °C", "ε_0", 0.711, "", "MARTIN-BERDAHL")
SKY_SLOPE = Constant("emissivity of a clear sky by dew point", "", 0.0056, "1/°C", "MARTIN-BERDAHL")
SKY_CURVE = Constant("emissivity of a clear sky by dew point squared", "", 0.000073, "1/°C²", "MARTIN-BERDAHL")
CLOUD_SHARE = Constant("how far a full cover closes the sky's window", "", 0.84, "", "UNSWORTH-MONTEITH")
CLEAR_SUN = Constant("sun on flat ground under a clear sky", "", 1098.0, "W/m²", "HAURWITZ")
CLEAR_SUN_AIR = Constant("what the clear air takes from it", "", 0.059, "", "HAURWITZ")
CLOUD_DIMMING = Constant("share of a clear sky's sun that a full cover takes", "", 0.75, "", "KASTEN-CZEPLAK")
CLOUD_DIMMING_POWER = Constant("how late it takes it, as the sky fills", "", 3.4, "", "KASTEN-CZEPLAK")
EARTH_TILT = Constant("tilt of the earth's axis", "δ_max", 23.45, "°", "SOLAR-GEOMETRY")
EQUATION_OF_TIME = (
    Constant("equation of time, twice-yearly part", "", 9.87, "min", "SOLAR-GEOMETRY"),
    Constant("equation of time, yearly part (cosine)", "", -7.53, "min", "SOLAR-GEOMETRY"),
    Constant("equation of time, yearly part (sine)", "", -1.5, "min", "SOLAR-GEOMETRY"),
)
POT_LIFE_QUOTIENT = Constant("shortening of pot life for 10 °C warmer", "Q10", 2.0, "", "POT-LIFE-ARTICLE")

ATMOSPHERE = Constant("pressure of the standard atmosphere", "p_0", 1.01325, "bar", "SI")
AIR_GAS_CONSTANT = Constant("gas constant of dry air", "R", 287.05, "J/(kg·K)", "AIR-PROPERTIES")
AIR_HEAT_RATIO = Constant("ratio of heats of dry air", "γ", 1.4, "", "AIR-PROPERTIES")
FREE_AIR_TEMPERATURE = Constant("temperature of free air", "T", 293.15, "K", "AIR-PROPERTIES")
FREE_AIR_DENSITY = Constant("density of free air at 20 °C", "ρ", 1.204, "kg/m³", "AIR-PROPERTIES")
NOZZLE_DISCHARGE = Constant("blasting air by air alone, 0.75 to 0.85", "C", 0.80, "", "NOZZLE-TABLE")
TABLE_ABRASIVE = Constant("bulk density in the nozzle table, 100 lb/ft³", "ρ_b", 1601.85, "kg/m³", "NOZZLE-TABLE")
COMPRESSOR_RESERVE = Constant("compressor by what all tools take", "", 1.5, "", "COMPRESSOR-RESERVE")
MOLAR_VOLUME = Constant("volume of a mole of gas at 20 °C", "V_m", 0.024055, "m³/mol", "SI")
