"""The day of a visit, piece by piece: what each gets in its turn, and whether its metal is fit for it now."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from finishing.science.windows import Gates
from projects.record.models.visits import Visit, VisitPiece
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.verdicts import say

from .blast_sheet import BesidePlan, LineAhead, blast_sheet


@dataclass(frozen=True)
class Turn:
    """A piece on the phone. Metal within 3 °C of its dew point is not blasted: what is cleaned wet rusts at once."""

    row: VisitPiece
    line: LineAhead | None  # of the sheet; None where it could not be reckoned
    outlook: Outlook | None  # None once it is blasted

    @property
    def beside(self) -> BesidePlan | None:
        """Where the kept plan does not blast it on this visit."""
        following = self.line.following if self.line else None
        return following if isinstance(following, BesidePlan) else None

    @property
    def cold(self) -> bool:
        return self.outlook is not None and self.outlook.margin_now < Gates().margin

    @property
    def not_known(self) -> bool:
        return self.outlook is not None and bool(np.isnan(self.outlook.margin_now))

    @property
    def fine_from(self) -> datetime | None:
        """When its metal is far enough from the dew point; None where no hour in sight is."""
        if self.outlook is None:
            return None
        fine = self.outlook.path.margin[self.outlook.hour + 1 :] >= Gates().margin
        return self.outlook.moment(self.outlook.hour + 1 + int(np.argmax(fine))) if fine.any() else None

    @property
    def proposal(self) -> str:
        """Why it should not be blasted now, as a person would say it."""
        if self.outlook is None or not self.cold:
            return ""
        measures = self.row.visit.workshop.units
        metal, margin = say(self.outlook.metal_now, "°C", measures), say(self.outlook.margin_now, "delta°C", measures)
        if self.outlook.sweats:
            return f"it sweats: metal {metal}, at its dew point"
        return f"cold: metal {metal}, only {margin} above the dew point"


def in_turn(visit: Visit, now: datetime) -> list[Turn]:
    """Every piece of a visit, in the order of its sheet; then those beside the plan, and what could not be reckoned."""
    sheet = blast_sheet(visit, now)
    lines = {line.row.pk: line for line in [*sheet.lines, *sheet.beside]}
    rows = [*(line.row for line in lines.values()), *(left.row for left in sheet.left if not left.row._state.adding)]
    waiting = [row.piece for row in rows if row.state != VisitPiece.State.BLASTED]
    ahead = {outlook.piece.pk: outlook for outlook in outlooks(visit.workshop, waiting, now)}
    return [Turn(row, lines.get(row.pk), ahead.get(row.piece_id)) for row in rows]


def now_of(row: VisitPiece, now: datetime) -> Turn:
    """One of them by itself."""
    return Turn(row, None, outlooks(row.visit.workshop, [row.piece], now)[0])
