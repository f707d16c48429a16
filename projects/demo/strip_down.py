"""The demonstration's old machine as it came apart: tags, bags, what was found and what was repaired."""

import uuid
from datetime import time
from decimal import Decimal
from typing import Any

from finishing.science.units import Quantity
from finishing.workshops.models import User
from projects.record.actions.log import log_step
from projects.record.models import Fixing, Machine, Removal, Step
from projects.strip_down.actions import ChosenRepair, take_off

from .air import Diary
from .photos import drawn

Scenario = dict[str, Any]
FOUND = ("tag", "came_off", "condition", "cracks", "missing")


def take_apart(diary: Diary, scenario: Scenario, by: User) -> None:
    """In the order in which the parts came off; a repair that is done is logged when it was."""
    machine = Machine.objects.of(diary.workshop).select_related("workshop", "project").get(number=scenario["machine"])
    pieces = {piece.mark: piece for piece in machine.project.pieces.select_related("part", "project")}
    day = diary.day(scenario["day"])
    for tag, entry in enumerate(scenario["off"], start=1):
        when = diary.on(day, time.fromisoformat(entry["clock"]))
        found = {"tag": str(tag)} | {name: entry[name] for name in FOUND if name in entry}
        take_off(
            by=by,
            key=uuid.uuid4(),
            machine=machine,
            piece=pieces[entry["piece"]],
            removal=Removal(**found),
            fixings=[Fixing(*fixing) for fixing in entry.get("bag", ())],
            happened_at=when,
            now=when,
            repair=_repair(entry["repair"]) if "repair" in entry else None,
            photos=[drawn(entry["photo"])] if "photo" in entry else [],
            note=entry.get("note", ""),
        )
        if done := entry.get("repair", {}).get("done"):
            log_step(
                by=by,
                key=uuid.uuid4(),
                kind=Step.Kind.WORKED,
                work=Step.Work.REPAIR,
                happened_at=diary.on(day, time.fromisoformat(done["clock"])),
                pieces=[pieces[entry["piece"]]],
                of_each={},
                minutes=Quantity(done["minutes"], "minute"),
            )


def _repair(entry: Scenario) -> ChosenRepair:
    way = Step.Repair(entry["way"])
    return ChosenRepair(way, entry["what"], Quantity(entry["minutes"], "minute"), Decimal(entry["money"]))
