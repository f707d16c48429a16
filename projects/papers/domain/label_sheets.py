"""A sheet of labels, as somebody measures the one in hand."""

from dataclasses import dataclass

SHEET = 210.0, 297.0  # mm, A4


@dataclass(frozen=True)
class LabelSheet:
    """Labels on A4: how many, where the first begins, and how far one lies from the next; mm."""

    columns: int
    rows: int
    top: float
    left: float
    gap_across: float
    gap_down: float

    @property
    def width(self) -> float:
        return (SHEET[0] - 2 * self.left - (self.columns - 1) * self.gap_across) / self.columns

    @property
    def height(self) -> float:
        return (SHEET[1] - 2 * self.top - (self.rows - 1) * self.gap_down) / self.rows

    @property
    def many(self) -> int:
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """Upper left of the label at this place, counted along the rows."""
        row, column = divmod(place, self.columns)
        return self.left + column * (self.width + self.gap_across), self.top + row * (self.height + self.gap_down)
