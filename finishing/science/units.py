"""The one registry of units. Quantities of two registries do not meet, so every quantity comes from here."""

from typing import Any

import pint

units: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, on_redefinition="ignore")
units.define("@alias thou = mil = mils")  # pint's own mil is an angle
units.define("liter = decimeter ** 3 = L = l = litre")  # written L: a small l is read as 1
units.formatter.default_format = "~P"
pint.set_application_registry(units)  # type: ignore[no-untyped-call]

Quantity: Any = units.Quantity
