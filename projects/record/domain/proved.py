"""Whether a revision is proved: read from what was fitted to machines and what was checked there."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from uuid import UUID

from projects.record.models.designs import Design, Part, Revision
from projects.record.models.projects import Machine
from projects.record.models.proving import Check, Fitting, Trial
from projects.record.models.routes import Operation

NO_REVISION = "no revision"
NO_CHECK = "no check is listed"
NOT_FITTED = "not fitted to a machine yet"


def in_order(revisions: Iterable[Revision]) -> list[Revision]:
    """Oldest first: by the day each was drawn if all of them say it, else as labelled: 9 before 10, Z before AA."""

    def by_label(row: Revision) -> list[tuple[int, int, str]]:
        words = re.findall(r"\d+|\D+", row.label)
        return [(0, int(word), "") if word.isdecimal() else (1, len(word), word) for word in words]

    rows = sorted(revisions, key=by_label)
    return sorted(rows, key=lambda row: row.made_on or date.min) if all(row.made_on for row in rows) else rows


def current_revision(part: Part | None) -> Revision | None:
    """The latest revision of a part; None of the machine as a whole. Many parts: prefetch their `revisions`."""
    return next(reversed(in_order(part.revisions.all())), None) if part else None


def ready_made(design: Design) -> set[UUID]:
    """Parts bought in as they are, as bearings and screws: nothing is made of them, so they have no piece to prove."""
    made: dict[UUID, bool] = {}
    for part, process in Operation.objects.filter(design=design).exclude(part=None).values_list("part", "process"):
        made[part] = made.get(part, False) or process != Operation.Process.BOUGHT_IN
    return {part for part, something_is_done in made.items() if not something_is_done}


@dataclass
class MachineHistory:
    """What became of one machine: who sat where, what was ever assembled, how each check last came out by revision.

    `latest` counts a trial for a revision only if a piece of it sat in the machine when it was tried, so that
    a check passed with A says nothing of B, and one of the whole machine speaks for all that sat in it then.
    """

    machine: Machine
    seats: dict[tuple[UUID, int], UUID | None] = field(default_factory=dict)
    fitted: set[UUID] = field(default_factory=set)
    assembled_with: set[UUID] = field(default_factory=set)
    latest: dict[tuple[UUID, UUID], bool] = field(default_factory=dict)

    def seat(self, fitting: Fitting, positions: set[tuple[UUID, int]]) -> None:
        where = (fitting.part_id, fitting.position)
        if fitting.piece is None:
            self.seats.pop(where, None)
        else:
            self.seats[where] = fitting.piece.revision_id
        inside = {revision for revision in self.seats.values() if revision}
        self.fitted |= inside
        if positions <= self.seats.keys():
            self.assembled_with |= inside

    def try_out(self, trial: Trial) -> None:
        for (part, _), revision in self.seats.items():
            if revision and trial.check_done.part_id in (None, part) and trial.revision_id in (None, revision):
                self.latest[revision, trial.check_done_id] = trial.passed

    def lacks(self, revision: Revision, checks: list[Check], positions: set[tuple[UUID, int]]) -> list[str]:
        """What it still lacks to prove the revision."""
        undone = [f"check “{check}” not done on {self.machine}" for check in checks if not self.result(revision, check)]
        if revision.pk in self.assembled_with:
            return undone
        if revision.pk not in self.seats.values():
            return [f"taken out of {self.machine} before that was assembled", *undone]
        empty = len(positions - self.seats.keys())
        return [f"{self.machine} is not assembled: {empty} place{' is' if empty == 1 else 's are'} empty", *undone]

    def result(self, revision: Revision, check: Check) -> bool | None:
        """Whether the check last passed with it there; None where it was not done."""
        return self.latest.get((revision.pk, check.pk))


class Proof:
    """What is proved of a design; a fixed number of queries, however many parts, machines and checks it has.

    A revision is proved when, on one machine of the design,
    · a piece of it sat in the machine while every position of every part that is not ready-made was filled
      (assembled),
    · every check still asked for, the part's own and those of the whole machine, last passed with it there,
    and no such check last failed with it on any other machine. What is taken apart later unproves nothing; a piece
    of another revision put in its place is judged by itself; a part or check added to the design has to be fitted
    or done first. The checks may be done while the machine is still being put together.
    """

    def __init__(self, design: Design) -> None:
        self.design = design

    @cached_property
    def checks(self) -> list[Check]:
        rows = Check.objects.filter(design=self.design, retired=False)
        return sorted(rows, key=lambda check: (check.part_id is None, check.what))  # the part's own come first

    @cached_property
    def ready_made(self) -> set[UUID]:
        return ready_made(self.design)

    @cached_property
    def positions(self) -> set[tuple[UUID, int]]:
        return {
            (part, position)
            for part, quantity in Part.objects.filter(design=self.design).values_list("pk", "quantity")
            if part not in self.ready_made
            for position in range(1, quantity + 1)
        }

    @cached_property
    def machines(self) -> list[MachineHistory]:
        fittings = Fitting.objects.filter(part__design=self.design).select_related("machine", "piece")
        trials = Trial.objects.filter(check_done__design=self.design).select_related("machine", "check_done")
        events: list[Fitting | Trial] = [*fittings, *trials]
        histories: dict[UUID, MachineHistory] = {}
        for event in sorted(events, key=_happened):
            history = histories.setdefault(event.machine_id, MachineHistory(event.machine))
            if isinstance(event, Fitting):
                history.seat(event, self.positions)
            else:
                history.try_out(event)
        return sorted(histories.values(), key=lambda history: history.machine.number)

    def checks_of(self, part: UUID) -> list[Check]:
        return [check for check in self.checks if check.part_id in (None, part)]

    def unproved(self, part: Part, revision: Revision | None) -> str:
        """Why a part is not proved as of this revision, in words; "" where it is, or where it is ready-made."""
        if part.pk in self.ready_made:
            return ""
        if revision is None:
            return NO_REVISION
        checks = self.checks_of(revision.part_id)
        if not checks:
            return NO_CHECK
        tried = [machine for machine in self.machines if revision.pk in machine.fitted]
        for machine in tried:
            for check in checks:
                if machine.result(revision, check) is False:
                    return f"check “{check}” failed on {machine.machine}"
        if not tried:
            return NOT_FITTED
        lacking = [machine.lacks(revision, checks, self.positions) for machine in tried]
        nearest = min(lacking, key=lambda words: len(words))
        return nearest[0] if nearest else ""


def _happened(event: Fitting | Trial) -> tuple[datetime, datetime]:
    return (event.fitted_at if isinstance(event, Fitting) else event.tried_at, event.entered_at)
