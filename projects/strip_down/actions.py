"""What is done while a machine comes apart and goes together again."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from finishing.science.units import Quantity
from finishing.workshops.models import Place, User
from projects.buying.actions.routes import begin_usual_route
from projects.proving.actions import fit
from projects.proving.domain.assembly import sits_in
from projects.record.actions.log import correct_rack, repair_key
from projects.record.actions.pieces import make_pieces, set_aside
from projects.record.images import Photograph
from projects.record.models import Fitting, Fixing, Machine, Operation, Part, Piece, Removal, Step

Process = Operation.Process


@dataclass(frozen=True)
class ChosenRepair:
    """How a fault is put right, and what it may take: minutes of our own hands, and money for others."""

    way: Step.Repair
    what: str = ""
    minutes: Quantity | None = None
    money: Decimal | None = None


@transaction.atomic
def name_part(machine: Machine, name: str, mark: str, key: uuid.UUID) -> Piece:
    """A piece of a part of that name, made where nobody had named it; the same form again is the same piece."""
    if there := Piece.objects.filter(pk=uuid.uuid5(key, "piece"), project=machine.project).first():
        return there
    design, workshop = machine.project.design, machine.workshop
    part = design.parts.filter(name__iexact=name).first() or Part.objects.create(
        workshop=workshop, design=design, name=name
    )
    own = Piece.objects.filter(part=part, machine=machine).count() + 1
    if own > part.quantity:
        part.quantity = own
        part.save(update_fields=["quantity"])
    marked = machine.project.pieces.filter(mark=mark).exists()
    piece = Piece(
        id=uuid.uuid5(key, "piece"),
        workshop=workshop,
        project=machine.project,
        part=part,
        machine=machine,
        mark=f"{mark} {part}"[:40] if marked else mark,
        place=usual_place(machine),
        old_paint=True,
    )
    return make_pieces([piece])[0]


def usual_place(machine: Machine) -> Place:
    """Where the machine's other pieces stand; else the workshop's first place, indoors if there is one."""
    last = machine.project.pieces.select_related("place").order_by("-made_at").first()
    places = Place.objects.of(machine.workshop)
    return last.place if last else places.filter(kind=Place.Kind.SHOP).first() or places.all()[0]


@transaction.atomic
def take_off(
    *,
    by: User,
    key: uuid.UUID,
    machine: Machine,
    piece: Piece,
    removal: Removal,
    fixings: Iterable[Fixing],
    happened_at: datetime,
    now: datetime,
    repair: ChosenRepair | None = None,
    photos: Iterable[Photograph] = (),
    note: str = "",
    minutes: Quantity | None = None,
    wrong: Iterable[Step] = (),
) -> Removal:
    """An entry of the piece with where it came off; what sat in its seat is out of it. Sent again it adds nothing.

    wrong: the entries for which this one stands from now on
    """
    steps = correct_rack(
        by=by,
        wrong=wrong,
        now=now,
        key=key,
        kind=Step.Kind.TAKEN_OFF,
        happened_at=happened_at,
        pieces=[piece],
        of_each={},
        photos=photos,
        note=note,
        minutes=minutes,
        repair=repair.way if repair else "",
    )
    if there := Removal.objects.filter(step=steps[0]).first():
        return there
    removal.workshop, removal.machine, removal.step = machine.workshop, machine, steps[0]
    removal.position = _leave_seat(machine, piece, by, happened_at)
    removal.fill_bag(fixings)
    removal.save()
    if piece.machine_id is None:
        Piece.objects.filter(pk=piece.pk).update(machine=machine)
    if repair:
        choose_repair(steps[0], repair)
    return removal


def _leave_seat(machine: Machine, piece: Piece, by: User, when: datetime) -> int:
    """The position that it came out of: where it sat, where it came off before, or the first that none came off."""
    sitting = sits_in([piece]).get(piece.pk)
    if sitting and sitting.machine_id == machine.pk:
        out = Fitting(workshop=machine.workshop, machine=machine, part=piece.part, position=sitting.position, by=by)
        out.note, out.fitted_at = "taken off", max(when, sitting.fitted_at)
        fit(out)
        return sitting.position
    off = Removal.objects.standing().filter(machine=machine, step__piece__part=piece.part)
    positions = {row.step.piece_id: row.position for row in off}
    if piece.pk in positions:
        return positions[piece.pk]
    free = [place for place in range(1, piece.part.quantity + 1) if place not in positions.values()]
    if free:
        return free[0]
    piece.part.quantity += 1  # one more of it than anybody had counted
    piece.part.save(update_fields=["quantity"])
    return piece.part.quantity


@transaction.atomic
def choose_repair(step: Step, repair: ChosenRepair) -> None:
    """Work on the part's route, once, before it is blasted; a part to be made anew gets a route from pattern on."""
    piece, part = step.piece, step.piece.part
    if repair.way == Step.Repair.REMADE:
        begin_usual_route(part)
        set_aside(piece, True)
        first = part.operations.filter(process__in=(Process.PATTERN, Process.BOUGHT_IN)).first()
        if first and not first.has_figures:
            first.setup, first.setup_minutes = repair.money or Decimal(0), repair.minutes or Quantity(0, "minute")
            first.save()
        return
    own = Operation(
        id=repair_key(step),
        workshop_id=step.workshop_id,
        design_id=part.design_id,
        part=part,
        process=Process.REPAIR,
        name=f"{repair.way.label}: {repair.what}"[:100] if repair.what else f"{repair.way.label} {piece.mark}",
        in_house=True,
        setup=repair.money or Decimal(0),
        setup_minutes=repair.minutes or Quantity(0, "minute"),
        basis="thought when the repair was chosen",
    )
    route = list(part.operations.order_by("position"))
    repairs = [row for row in route if row.process == Process.REPAIR]
    others = [row for row in route if row.process != Process.REPAIR] or _finished_again(part)
    for position, row in enumerate([*repairs, own, *others], start=1):
        row.position = position
        row.save()


def _finished_again(part: Part) -> list[Operation]:
    """What an old part goes through once it is sound."""
    lettering = (Process.LETTERING,) if part.has_letters else ()
    finishing = () if part.stays_bare else (Process.BLASTING, Process.PAINTING, *lettering)
    own = {"workshop_id": part.workshop_id, "design_id": part.design_id, "part": part}
    return [Operation(process=process, **own) for process in finishing]


@transaction.atomic
def note_repair(*, by: User, key: uuid.UUID, piece: Piece, now: datetime, repair: ChosenRepair) -> Step:
    """A fault that showed later: chosen for a piece that is apart already. Sent again it adds nothing."""
    there = Step.objects.filter(rack=key, piece=piece).first()
    if there:
        return there
    entry = {"kind": Step.Kind.TO_REPAIR, "happened_at": now, "pieces": [piece], "of_each": {}}
    facts = {"repair": repair.way, "note": repair.what}
    step = correct_rack(by=by, wrong=(), now=now, key=key, **entry, **facts)[0]
    choose_repair(step, repair)
    return step


@transaction.atomic
def refit(*, by: User, key: uuid.UUID, removal: Removal, piece: Piece, shims: str, note: str, now: datetime) -> None:
    """The piece sits in its seat again; ticked twice it is one fitting."""
    if Fitting.objects.filter(pk=key).exists():
        return
    sitting = sits_in([piece]).get(piece.pk)
    here = (removal.machine_id, removal.position)
    if sitting and (sitting.machine_id, sitting.position) == here:
        return
    row = Fitting(id=key, workshop_id=removal.workshop_id, machine=removal.machine, part=piece.part, piece=piece, by=by)
    row.position, row.shims, row.note, row.fitted_at = removal.position, shims, note, now
    fit(row, out_of=sitting)


@transaction.atomic
def take_refit_back(*, by: User, removal: Removal, now: datetime) -> None:
    """A later fitting with nothing in it; what was ticked stays to be read."""
    part = removal.piece.part
    last = removal.machine.fittings.filter(part=part, position=removal.position).last()
    if last and last.piece_id:
        empty = Fitting(workshop_id=removal.workshop_id, machine=removal.machine, part=part, by=by)
        empty.position, empty.note, empty.fitted_at = removal.position, "ticked by mistake", max(now, last.fitted_at)
        fit(empty)
