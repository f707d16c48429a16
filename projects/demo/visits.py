"""The demonstration's blasting contractor: a day that is settled, and one that is prepared for the next working day."""

import uuid
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from finishing.science.units import Quantity
from finishing.workshops.models import User
from projects.record.models import Piece, Visit
from projects.visits.actions import choose_pieces, prepare_visit, refuse_piece, settle_visit, tick_task

from .air import Diary

Scenario = dict[str, Any]


def add_visits(diary: Diary, visits: list[Scenario], by: User) -> None:
    for entry in visits:
        VisitStory(diary, entry, by).tell()


class VisitStory:
    """A visit as its pages would make it, on the day that it is told of."""

    def __init__(self, diary: Diary, entry: Scenario, by: User) -> None:
        self.diary, self.entry, self.by = diary, entry, by
        self.day = _next_worked(diary) if entry["day"] == "next" else diary.day(entry["day"])

    def tell(self) -> None:
        visit = self.prepared()
        rows = {row.piece.mark: row for row in visit.pieces.in_full()}
        for mark, how in self.entry.get("masked", {}).items():
            rows[mark].mask_how = how
            rows[mark].save()
        for what, clock in self.entry["done"].items():
            tick_task(visit.tasks.get(what=what), done=True, now=min(self.diary.now, self.at(clock)))
        for mark, (clock, reason) in self.entry.get("refused", {}).items():
            refuse_piece(rows[mark], by=self.by, key=uuid.uuid4(), reason=reason, now=self.at(clock))
        if "settled" in self.entry:
            self.settle(visit, **self.entry["settled"])

    def prepared(self) -> Visit:
        workshop = self.diary.workshop
        visit = prepare_visit(Visit(workshop=workshop, date=self.day, **self.entry["visit"]))
        visit.refresh_from_db()
        marks = self.entry["pieces"].split()
        choose_pieces(visit, Piece.objects.of(workshop).filter(mark__in=marks).with_log())
        return visit

    def settle(self, visit: Visit, clock: str, hours: float, paid: str, kilograms: float) -> None:
        medium = visit.pieces.exclude(medium=None).values_list("medium_id", flat=True).first()
        assert medium is not None  # one is proposed when the visit is prepared
        settle_visit(
            visit,
            by=self.by,
            hours=Quantity(hours, "hour"),
            paid=Decimal(paid),
            used={medium: Quantity(kilograms, "kg")},
            timed={},
            now=self.at(clock),
        )

    def at(self, clock: str) -> datetime:
        return self.diary.on(self.day, time.fromisoformat(clock))


def _next_worked(diary: Diary) -> date:
    day = diary.today + timedelta(days=1)
    while not diary.works(day):
        day += timedelta(days=1)
    return day
