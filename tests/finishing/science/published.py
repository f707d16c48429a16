"""Published tables: a CSV in fixtures/tables whose first line names its source."""

import csv
from pathlib import Path

TABLES = Path(__file__).parents[3] / "fixtures" / "tables"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one table; the line that names the source must be there."""
    lines = (TABLES / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# source:"), f"{name}.csv names no source"
    return list(csv.DictReader(lines[1:]))
