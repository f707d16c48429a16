"""How long work on iron takes: minutes of a layer on an area, by side, and what stands around it."""

from .units import Quantity

LETTERS = Quantity(45, "minute")  # for a piece's raised letters   [our judgement]
WIPE = Quantity(10, "minute/m**2")  # blown down and wiped after blasting   [common practice]
