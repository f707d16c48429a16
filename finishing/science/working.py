"""How a number was made: what a page opens when somebody asks."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Working:
    """Formula, inputs with units, result and source (a key of SOURCES) of one number shown to a person."""

    name: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    result: str
    source: str
    note: str = ""
