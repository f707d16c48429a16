"""Workshops of a chosen size, made up in bulk: pieces at work at unlike stages, and ten years of closed projects.

The rows are those that the pages would have written, with the library's own systems and the invented weather's air;
only their number is ours. Six of a part, one a machine, are worked together as a rack.
"""

import random
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from unittest.mock import patch
from uuid import UUID, uuid4

from django.core.files.base import ContentFile
from django.test import Client

from finishing.air.models import Forecast
from finishing.coatings.models import Coating, Layer, System
from finishing.library.actions import begin_workshop
from finishing.media.models import Medium
from finishing.workshops.models import Invitation, Membership, Place, User, Workshop
from projects.demo.air import Diary, Weather, read_loggers, store_forecasts
from projects.record.actions.states import keep_states
from projects.record.images import photograph
from projects.record.models import (
    Chapter,
    Design,
    Machine,
    Part,
    Photo,
    Piece,
    Plan,
    PlanRun,
    Project,
    Slot,
    Step,
    Visit,
    VisitPiece,
)
from projects.record.models.stages import PieceState
from projects.visits.actions import prepare_visit, proposed
from tests import cost_factories, factories

MACHINES = {30: 5, 90: 6, 300: 10, 1000: 20, 3000: 40}  # at work, by how many pieces they have together
YEARS = 10  # of closed projects, one a year of half as many machines
RACK = 6
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
BETWEEN_COATS, AFTER_PREPARING = 22 * HOUR, HOUR
SYSTEMS = ("alkyd-quick", "alkyd-two-enamel", "cellulose-two-coats", "machinery-enamel-one-coat", "epoxy-polyurethane")
COLOURS = ("#2f5a44", "#26364a", "#25282a")
PLACES = (
    ("Long shop", Place.Kind.SHOP, {"held_at": 16, "humidity_ceiling": 55, "stirred": True}),
    ("Cold store", Place.Kind.SHOP, {}),
    ("Far roof", Place.Kind.ROOF, {}),
)
# How old the last entry of a rack is, in hours; bare iron takes the first ones.
AGES = (3, 6, 9, 20, 27, 30, 52, 75, 98, 170, 260, 400)


@dataclass(frozen=True)
class WorkshopAtWork:
    """A made-up workshop, and the rows that its pages are of."""

    workshop: Workshop
    owner: User
    project: Project
    racks: list[list[Piece]]  # worked together, blasted, with coats to come

    @property
    def pages(self) -> dict[str, str]:
        """The address of each page that a helper, or the owner, opens every day."""
        project, rack = self.project.pk, self.racks[0]
        return {
            "day_sheet": "/",
            "project": f"/projects/{project}/",
            "projects": "/projects/",
            "search": "/search/?text=a",
            "search_pieces": "/search/?text=a&kind=pieces",
            "entries": "/log/entries/?text=a",
            "orders": "/orders/all/",
            "pieces": f"/projects/{project}/pieces/",
            "pieces_change": f"/projects/{project}/pieces/change/?all=1",
            "design": f"/designs/{self.project.design_id}/",
            "parts_change": f"/designs/{self.project.design_id}/parts/change/?all=1",
            "log": "/log/",
            "log_form": "/log/?" + "&".join(f"piece={piece.pk}" for piece in rack),
            "piece": f"/pieces/{rack[0].pk}/",
            "visits": "/visits/",
            "plan": "/plan/",
            "plan_settings": "/plan/settings/",
            "paint": f"/projects/{project}/paint/",
            "costs": f"/projects/{project}/costs/",
            "costs_blasting": f"/projects/{project}/costs/?section=blasting",
            "costs_making": f"/projects/{project}/costs/?section=making",
        }

    def client(self) -> Client:
        """A browser in which the owner has signed in."""
        client = Client()
        client.force_login(self.owner)
        return client


def workshop_at_work(pieces: int, now: datetime, seed: int = 11) -> WorkshopAtWork:
    """A workshop with so many pieces at work, one of MACHINES."""
    owner = User(username=f"owner{pieces}", first_name="Edda")
    owner.set_password("castiron")
    workshop = Workshop(
        name=f"Works of {pieces}",
        latitude=52.31,
        longitude=-2.84,
        altitude=140,
        time_zone="Europe/London",
        currency="GBP",
        wage=Decimal(24),
        weather_service=Workshop.WeatherService.INVENTED,
    )
    begin_workshop(invitation=Invitation.objects.create(role=Membership.Role.OWNER), owner=owner, workshop=workshop)
    workshop.refresh_from_db()
    for name, kind, values in PLACES:
        Place.objects.create(workshop=workshop, name=name, kind=kind, **values)
    _air(Diary(workshop, now), owner)
    return _Writer(workshop, owner, now, seed).write(pieces)


def _air(diary: Diary, owner: User) -> None:
    weather = Weather(diary, seed=42, wetness=0.4, season=172)
    store_forecasts(weather)
    places = {place.name: place for place in Place.objects.of(diary.workshop)}
    read_loggers(weather, places, [{"place": "Lean-to", "days": 5}, {"place": "Cold store", "days": 20}], owner)


def racks(pieces: list[Piece]) -> Iterator[list[Piece]]:
    """Those of a part by sixes."""
    of_parts: dict[UUID, list[Piece]] = {}
    for piece in pieces:
        of_parts.setdefault(piece.part_id, []).append(piece)
    for own in of_parts.values():
        yield from (own[at : at + RACK] for at in range(0, len(own), RACK))


class _Writer:
    """Adds the rows of one workshop; what is decided by chance is the same for the same seed."""

    def __init__(self, workshop: Workshop, owner: User, now: datetime, seed: int) -> None:
        self.workshop, self.owner, self.now, self.draw = workshop, owner, now, random.Random(seed)
        self.places = list(Place.objects.of(workshop).order_by("name"))
        self.media = list(Medium.objects.of(workshop).filter(retired=False))
        systems = System.objects.of(workshop).filter(library_key__in=SYSTEMS).prefetch_related("layers__coating")
        self.layers: dict[UUID, list[Layer]] = {system.pk: list(system.layers.all()) for system in systems}
        self.systems = list(systems)
        self.steps: list[Step] = []
        self.proposals: dict[UUID, VisitPiece] = {}
        self.done: dict[UUID, int] = {}  # of blasting and the layers, by piece

    def own(self, **values):
        return {"workshop": self.workshop, **values}

    def write(self, pieces: int) -> WorkshopAtWork:
        machines = MACHINES[pieces]
        design = Design.objects.create(**self.own(name="Wren treadle fretsaw"))
        parts = self.parts(design, pieces // machines)
        halves = ("Run of fretsaws", "Second run", "Spare sets")
        at_work = [
            Project.objects.create(**self.own(name=name, design=design, promised_on=self.day(40))) for name in halves
        ]
        made = self.pieces(parts, [(at_work[(0, 1, 0, 2)[n % 4]], str(n + 1)) for n in range(machines)])
        for number, rack in enumerate(racks(made)):
            # the log form is asked for the first rack, whose last layer is to come; the second waits to be blasted
            known = {0: len(self.layers.get(rack[0].part.system_id, ())), 1: 0}
            self.write_log(rack, story=known.get(number, 5 * number))
        closed = [self.closed(design, parts, year, max(1, machines // 2)) for year in range(YEARS)]
        with patch.object(Step._meta.get_field("entered_at"), "auto_now_add", False):  # each as it happened
            Step.objects.bulk_create(self.steps, batch_size=1000)
        keep_states(Piece.objects.of(self.workshop))
        self.photos(made)
        self.visits(made, closed)
        self.plan(at_work[0], [piece for piece in made if piece.project == at_work[0]])
        self.costs(design, parts, [*at_work, *(project for project, _ in closed)])
        coming = {
            rack[0].pk: len(self.layers.get(rack[0].part.system_id, ())) + 1 - self.done[rack[0].pk]
            for rack in racks(made)
        }
        begun = [rack for rack in racks(made) if self.done[rack[0].pk] and coming[rack[0].pk]]
        begun.sort(key=lambda rack: coming[rack[0].pk])
        return WorkshopAtWork(self.workshop, self.owner, at_work[0], begun)

    def day(self, ahead: int) -> date:
        return (self.now + ahead * DAY).date()

    def parts(self, design: Design, count: int) -> list[Part]:
        """Unlike in weight, system and colour; every tenth stays bare, every seventh has letters."""
        letters = Coating.objects.of(self.workshop).filter(generic_type="sign enamel").first()
        rows = []
        for number in range(count):
            area = round(self.draw.uniform(0.05, 1.2), 2)
            values = (
                {"stays_bare": True}
                if number % 10 == 9
                else {
                    "system": self.systems[number % len(self.systems)],
                    "colour": COLOURS[number % len(COLOURS)],
                }
            )
            if number % 7 == 2 and "system" in values:
                values |= {"lettering": "WREN", "lettering_coating": letters, "lettering_colour": "#e6cf8f"}
            rows.append(
                Part(
                    **self.own(
                        design=design,
                        name=f"part {number + 1:03}",
                        mass=round(area * self.draw.choice((14, 28, 60)), 1),
                        area=area,
                        area_basis="typed",
                        **values,
                    )
                )
            )
        return Part.objects.bulk_create(rows)

    def pieces(self, parts: list[Part], machines: list[tuple[Project, str]]) -> list[Piece]:
        """Of every part one a machine; a rack stands together."""
        rows = []
        for number, (project, name) in enumerate(machines):
            machine = Machine.objects.create(**self.own(project=project, number=name))
            rows += [
                Piece(
                    **self.own(
                        project=project,
                        part=part,
                        machine=machine,
                        mark=f"{name}-{at + 1:03}",
                        place=self.places[(at + number // RACK) % len(self.places)],
                    )
                )
                for at, part in enumerate(parts)
            ]
        return Piece.objects.bulk_create(rows, batch_size=1000)

    # -- the log

    def write_log(self, rack: Sequence[Piece], story: int) -> None:
        """As far along its system as the story says; 0 is to be blasted, 1 is bare iron."""
        layers = self.layers.get(rack[0].part.system_id, [])
        done = story % (len(layers) + 2) if layers else 0
        age = AGES[(story // 3) % (4 if done == 1 else len(AGES))]
        self.entries(rack, done, self.now - age * HOUR)

    def entries(self, rack: Sequence[Piece], done: int, last: datetime) -> None:
        """Received, then the first `done` of blasting and the layers, the last of them at `last`."""
        steps: list[tuple[str, Layer | None]] = [(Step.Kind.BLASTED, None)]
        for layer in self.layers.get(rack[0].part.system_id, ()):
            steps.append((Step.Kind.COATED if layer.is_coat else Step.Kind.PREPARED, layer))
        moment, written = last, []
        for kind, layer in reversed(steps[:done]):
            written.append((moment, kind, layer))
            moment -= BETWEEN_COATS if kind == Step.Kind.PREPARED else AFTER_PREPARING
        written.append((moment - 3 * DAY, Step.Kind.RECEIVED, None))
        for piece in rack:
            self.done[piece.pk] = len(written) - 1
            for happened_at, kind, layer in reversed(written):
                facts = (
                    {}
                    if layer is None
                    else {"layer": layer, "layer_position": layer.position, "layer_label": layer.label}
                )
                if kind == Step.Kind.COATED:
                    facts |= {
                        "coating": layer.coating,
                        "dry_film": layer.dry_film,
                        "litres": 0.08,
                        "minutes": 14,
                        "batch": "B-7",
                        "surface_temperature": 16.5,
                        "verdict": Step.Verdict.INSIDE,
                    }
                self.steps.append(
                    Step(
                        **self.own(
                            piece=piece,
                            kind=kind,
                            happened_at=happened_at,
                            entered_at=happened_at,
                            by=self.owner,
                            **facts,
                        )
                    )
                )

    def closed(self, design: Design, parts: list[Part], year: int, machines: int) -> tuple[Project, list[Piece]]:
        """A run finished so many years ago, every piece of it coated."""
        ended = self.now - (365 * year + 60) * DAY
        project = Project.objects.create(**self.own(name=f"Run of {ended.year}", design=design, closed=True))
        made = self.pieces(parts, [(project, f"{ended.year}-{n + 1}") for n in range(machines)])
        for number, rack in enumerate(racks(made)):
            whole = 1 + len(self.layers.get(rack[0].part.system_id, ()))
            self.entries(rack, 0 if rack[0].part.stays_bare else whole, ended - number % 40 * DAY)
        return project, made

    def photos(self, pieces: list[Piece]) -> None:
        """One of every rack at work that was blasted, kept once and shown with each of its pieces."""
        kept = photograph(factories.grey_photo(), 10**7, 10**8)
        first = Photo(width=kept.width, height=kept.height)
        first.image.save("rack.jpg", ContentFile(kept.image), save=False)
        first.thumbnail.save("rack.jpg", ContentFile(kept.thumbnail), save=False)
        at_work = {piece.pk for piece in pieces}
        Photo.objects.bulk_create(
            Photo(
                **self.own(
                    step=step,
                    project_id=step.piece.project_id,
                    taken_at=step.happened_at,
                    stage=Chapter.FOUND,
                    image=first.image.name,
                    thumbnail=first.thumbnail.name,
                    width=kept.width,
                    height=kept.height,
                )
            )
            for step in self.steps
            if step.kind == Step.Kind.BLASTED and step.piece_id in at_work
        )

    # -- what stands beside it

    def visits(self, made: list[Piece], closed: list[tuple[Project, list[Piece]]]) -> None:
        """Two of each closed project, settled; two to come, for what is to be blasted."""
        for project, pieces in closed:
            blasted = [piece for piece in pieces if not piece.part.stays_bare]
            for half, rows in enumerate((blasted[::2], blasted[1::2])):
                day = self.now - (365 * closed.index((project, pieces)) + 100 + half) * DAY
                visit = self.visit(day.date(), rows)
                Visit.objects.filter(pk=visit.pk).update(settled_at=day, hours=6, paid=Decimal(640))
        raw = [rack[0] for rack in racks(made) if not self.done[rack[0].pk] and not rack[0].part.stays_bare]
        self.visit(self.day(2), raw[::2][:30])
        self.visit(self.day(5), raw[1::2][:30])

    def visit(self, day: date, pieces: list[Piece]) -> Visit:
        """With what is proposed for each piece, as for the first of its part."""
        visit = prepare_visit(
            Visit(
                **self.own(
                    date=day,
                    contractor="Grit Brothers",
                    call_out=Decimal(60),
                    travel=Decimal(30),
                    rate=Decimal(90),
                    nozzle_bore=6,
                    hose_bore=25,
                    most_pressure=7,
                    free_air=2.6,
                )
            )
        )
        visit.refresh_from_db()
        rows = []
        for piece in pieces:
            if piece.part_id not in self.proposals:
                piece.state = PieceState()  # as it was before it was blasted
                self.proposals[piece.part_id] = proposed(visit, piece, self.media)
            row = copy(self.proposals[piece.part_id])
            row.pk, row.visit, row.piece = uuid4(), visit, piece
            rows.append(row)
        VisitPiece.objects.bulk_create(rows, batch_size=1000)
        return visit

    def plan(self, project: Project, pieces: list[Piece]) -> None:
        """A kept plan of the next coats of every rack that is not finished, over nine working days."""
        run = PlanRun.objects.create(
            **self.own(state=PlanRun.State.DONE, asked_at=self.now - HOUR, asked_by=self.owner)
        )
        run.projects.set([project])
        plan = Plan.objects.create(
            **self.own(
                run=run,
                state=Plan.State.KEPT,
                made_at=self.now - HOUR,
                checked_at=self.now,
                finish_at=self.now + 9 * DAY,
                decided_at=self.now,
                decided_by=self.owner,
                forecast=Forecast.objects.of(self.workshop).first(),
                cost=Decimal(900),
                margin=4.0,
            )
        )
        slots, on = [], []
        for number, rack in enumerate(racks(pieces)):
            layers = self.layers.get(rack[0].part.system_id, [])[max(0, self.done[rack[0].pk] - 1) :]
            begin = (self.now + (number % 8) * DAY).replace(hour=8 + number % 7, minute=0)
            for layer in layers:
                name = f"rack {number + 1}"
                slots.append(
                    Slot(
                        **self.own(
                            plan=plan,
                            rack=name,
                            key=f"{name} {layer.position}",
                            label=layer.label,
                            layer=layer,
                            kind=Slot.Kind.COAT if layer.is_coat else Slot.Kind.PREPARE,
                            place=self.places[0],
                            begin=begin,
                            end=begin + HOUR,
                            dry_at=begin + 8 * HOUR if layer.is_coat else None,
                        )
                    )
                )
                on.append((slots[-1], rack))
                begin += HOUR if not layer.is_coat else DAY
        Slot.objects.bulk_create(slots, batch_size=1000)
        held = Slot.pieces.through
        held.objects.bulk_create((held(slot=slot, piece=piece) for slot, rack in on for piece in rack), batch_size=1000)
        works = Slot.people.through
        works.objects.bulk_create((works(slot=slot, user=self.owner) for slot in slots), batch_size=1000)

    def costs(self, design: Design, parts: list[Part], projects: list[Project]) -> None:
        """A casting of every part at a foundry's price, ordered and received for each project; paint bought."""
        foundry = cost_factories.SupplierFactory(workshop=self.workshop, currency="")
        castings = [cost_factories.OperationFactory(part=part) for part in parts]
        for operation in castings:
            cost_factories.QuoteFactory(operation=operation, supplier=foundry)
        paints = list(Coating.objects.of(self.workshop).filter(from_library=True)[:4])
        for project in projects:
            count = project.machines.count()
            order = cost_factories.OrderFactory(
                design=design, supplier=foundry, project=project, ordered_on=self.day(-90), promised_on=self.day(-60)
            )
            for operation in castings:
                line = cost_factories.OrderLineFactory(
                    operation=operation, order=order, quantity=count, pieces_cost=Decimal(42 * count)
                )
                cost_factories.ReceiptFactory(line=line, good=count, received_on=self.day(-61), by=self.owner)
            cost_factories.PaymentFactory(order=order, amount=Decimal(42 * count * len(parts)))
            for paint in paints:
                cost_factories.PaintReceiptFactory(project=project, coating=paint, by=self.owner)
