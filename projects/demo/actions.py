"""The demonstration: an invented workshop in the middle of its work, told around whatever moment it is.

What there is stands in fixtures/demo.json; here it is built by the same actions that the pages use.
"""

import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

import numpy as np
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction

from finishing.coatings.actions.coatings import copy_coating, save_coating
from finishing.coatings.actions.systems import LayerWanted, copy_system, save_system
from finishing.coatings.models import Additive, Coating, Layer, System, TinSize
from finishing.library.actions import begin_workshop
from finishing.science import rust
from finishing.science.drying import recoat_window
from finishing.science.hours import Floats
from finishing.science.units import Quantity
from finishing.site.fields import QuantityField
from finishing.workshops.actions.workshops import join_workshop
from finishing.workshops.models import Invitation, Place, User, Workshop
from projects.record.actions.log import log_step, void_step
from projects.record.actions.pieces import make_pieces
from projects.record.actions.projects import renew_address, start_project
from projects.record.models import Design, Part, Piece, Project, Revision, Step
from projects.record.models.pieces import PieceQuerySet
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.paths import Path, paths
from projects.work.domain.verdicts import JUDGED, Conditions, PieceVerdict, judge

from .air import EVENING_FROM, Diary, Weather, read_loggers, store_forecasts, store_past_years, type_readings
from .costs import add_costs
from .photos import drawn
from .strip_down import take_apart
from .visits import add_visits

PASSWORD = "castiron"  # for everybody; the demonstration is served to this computer alone  # pragma: allowlist secret
INVENTED = "invented for the demonstration"
UNSEEN = Conditions(None, None, None)
LEFT_WANTED = 2.5  # hours that the iron of the damp evening still has

Scenario = dict[str, Any]


@transaction.atomic
def build_demo(now: datetime) -> Workshop:
    scenario = json.loads((settings.SHIPPED / "fixtures" / "demo.json").read_text(encoding="utf-8"))
    workshop, people = _workshop_and_people(scenario)
    diary = Diary(workshop, now)
    places = _places(workshop, scenario["places"])
    weather = Weather(diary, **scenario["weather"])
    store_forecasts(weather)
    store_past_years(diary)
    read_loggers(weather, places, scenario["loggers"], people["owner"])
    type_readings(weather, places, scenario["readings"], people["helper"])
    _systems(workshop, scenario["systems"], _tins(workshop, scenario["tins"]))
    for entry in scenario["projects"]:
        _project(diary, entry, places)
    take_apart(diary, scenario["strip_down"], people["helper"])
    _Log(diary, places, people).write(scenario["log"])
    add_visits(diary, scenario["visits"], people["owner"])
    add_costs(diary, people["owner"])
    return workshop


def _workshop_and_people(scenario: Scenario) -> tuple[Workshop, dict[str, User]]:
    workshop, people = Workshop(**scenario["workshop"]), {}
    hashed = make_password(PASSWORD)
    for person in scenario["people"]:
        role = person.pop("role")
        user = people[person["username"]] = User(password=hashed, **person)
        if len(people) == 1:
            begin_workshop(invitation=Invitation.objects.create(role=role), owner=user, workshop=workshop)
        else:
            join_workshop(invitation=Invitation.objects.create(workshop=workshop, role=role), user=user)
    workshop.refresh_from_db()
    return workshop, people


def _places(workshop: Workshop, wanted: list[Scenario]) -> dict[str, Place]:
    """The three that every workshop begins with, as they are here, and two more."""
    for entry in wanted:
        place = Place.objects.of(workshop).filter(name=entry["name"]).first() or Place(workshop=workshop)
        for name, value in entry.items():
            setattr(place, name, value)
        place.save()
    return {place.name: place for place in Place.objects.of(workshop)}


def _tins(workshop: Workshop, wanted: list[Scenario]) -> dict[str, Coating]:
    """The workshop's own tins by the library's key."""
    return {entry["copy_of"]: _tin(workshop, **entry) for entry in wanted}


def _tin(workshop: Workshop, copy_of: str, prices: Scenario, additive: Scenario | None = None, **own: Any) -> Coating:
    sheet = Coating.objects.of(workshop).get(library_key=copy_of, from_library=True)
    tin = copy_coating(sheet, pk=uuid.uuid4())
    for name, value in own.items():
        setattr(tin, name, value)
    rows: dict[str, list[Any]] = {
        "drying_points": list(tin.drying_points.all()),
        "tin_sizes": [TinSize(litres=float(litres), price=price) for litres, price in prices.items()],
        "additives": [*tin.additives.all(), *([Additive(**additive)] if additive else [])],
    }
    return save_coating(tin, changed=["colour"], source=INVENTED, rows=rows, pot_life=tin.pot_life)


def _systems(workshop: Workshop, wanted: list[Scenario], tins: dict[str, Coating]) -> None:
    """The library's systems with the workshop's own tins in them."""
    for entry in wanted:
        model = System.objects.of(workshop).get(library_key=entry["copy_of"], from_library=True)
        system = copy_system(model, pk=uuid.uuid4())
        system.name = entry["name"]
        layers = list(system.layers.all())
        for layer in layers:
            layer.coating = tins[layer.coating.library_key] if layer.coating else None
        stirred = entry.get("stirred_in", {})
        save_system(system, [LayerWanted(layer, _stirred_in(layer, stirred), layer.pk) for layer in layers])


def _stirred_in(layer: Layer, wanted: dict[str, str]) -> list[Additive]:
    """Of its tin the additive that is wanted for a layer of this number."""
    name = wanted.get(str(layer.position))
    return list(layer.coating.additives.filter(name=name)) if layer.coating and name else []


def _project(diary: Diary, entry: Scenario, places: dict[str, Place]) -> None:
    """A project with its design, parts, pieces and the customer's address."""
    workshop = diary.workshop
    project = Project(workshop=workshop, name=entry["name"], customer=entry.get("customer", ""), note=entry["note"])
    project.promised_on = diary.today + timedelta(days=entry["promised_in"])
    if "design" in entry:
        project.design = Design.objects.create(workshop=workshop, name=entry["design"], note=entry["design_note"])
    start_project(project, entry["machines"])
    for part in entry["parts"]:
        _part_with_pieces(project, entry, part, places)
    if "follower" in entry:
        renew_address(project, entry["follower"])


OF_THE_PIECES = ("marks", "machines", "stands", "salt", "revisions")


def _part_with_pieces(project: Project, entry: Scenario, scenario: Scenario, places: dict[str, Place]) -> None:
    part, machines = _part(project, scenario), {machine.number: machine for machine in project.machines.all()}
    revisions = [
        Revision.objects.create(workshop_id=part.workshop_id, part=part, label=label, reason=reason)
        for label, reason in scenario.get("revisions", [])
    ]
    numbers = scenario.get("machines", [entry["machines"][0]] * len(scenario["marks"]))
    make_pieces(
        Piece(
            workshop_id=part.workshop_id,
            project=project,
            part=part,
            revision=revisions[-1] if revisions else None,
            machine=machines[number],
            mark=mark,
            place=places[scenario.get("stands", {}).get(mark, entry["place"])],
            salt=scenario.get("salt") or entry.get("salt") or "",
            old_paint=entry.get("old_paint", False),
        )
        for mark, number in zip(scenario["marks"], numbers, strict=True)
    )


def _part(project: Project, scenario: Scenario) -> Part:
    own = project.workshop_id
    values = {name: value for name, value in scenario.items() if name not in OF_THE_PIECES}
    if "system" in values:
        values["system"] = System.objects.of(own).get(name=values["system"])
    if "lettering" in values:
        letters = Coating.objects.of(own).get(generic_type="sign enamel", from_library=False)
        values |= {"lettering_coating": letters, "lettering_colour": letters.colour}
    return Part.objects.create(workshop_id=own, design=project.design, area_basis="typed", **values)


# The log


@dataclass
class _Log:
    """Writes entries as the log's page would: with what could be seen then, and the verdict on it."""

    diary: Diary
    places: dict[str, Place]
    people: dict[str, User]

    def write(self, entries: list[Scenario]) -> None:
        """The days gone by in their order, then what is told around this moment."""
        dated = [(self.when(entry), entry) for entry in entries if "moment" not in entry]
        for when, entry in sorted(dated, key=lambda pair: pair[0]):
            self.add(when, entry)
        for entry in entries:
            if "moment" in entry:
                self.add_at_moment(entry)

    def when(self, entry: Scenario) -> datetime:
        return self.diary.on(self.diary.day(entry["day"]), time.fromisoformat(entry["clock"]))

    def add(self, when: datetime, entry: Scenario) -> None:
        judged = entry["kind"] in JUDGED or entry["kind"] == Step.Kind.PREPARED
        seen, verdicts = self.judged(when, entry) if judged else (UNSEEN, [])
        steps = log_step(
            by=self.people[entry.get("by", "owner")],
            key=uuid.uuid4(),
            kind=entry["kind"],
            happened_at=when,
            pieces=self.pieces(entry),
            of_each={verdict.piece.pk: verdict.facts for verdict in verdicts},
            photos=[drawn(entry["photo"])] if "photo" in entry else [],
            forecast=next((verdict.forecast for verdict in verdicts if verdict.forecast), None),
            **self.facts(entry, seen),
        )
        self.void(steps, entry)

    def judged(self, when: datetime, entry: Scenario) -> tuple[Conditions, list[PieceVerdict]]:
        """What was seen then, and the verdicts; an entry that the page would refuse is a slip of the scenario."""
        views = outlooks(self.diary.workshop, list(self.pieces(entry).with_log()), when)
        seen = _seen(views[0], entry)
        verdicts = [judge(view, entry["kind"], when, seen) for view in views]
        for verdict in verdicts:
            if verdict.impossible:
                raise ValueError(f"{entry['kind']} {verdict.piece.mark}: {verdict.impossible}")
        return seen, verdicts

    def void(self, steps: list[Step], entry: Scenario) -> None:
        if "void" in entry:
            by = self.people[entry.get("by", "owner")]
            for step in steps:
                void_step(by=by, step=step, reason=entry["void"]["reason"], now=self.when(entry["void"]))

    def pieces(self, entry: Scenario) -> PieceQuerySet:
        marks = entry["pieces"].split()
        return Piece.objects.of(self.diary.workshop).filter(mark__in=marks).select_related("part").order_by("mark")

    def facts(self, entry: Scenario, seen: Conditions) -> dict[str, Any]:
        columns = {"litres": "litres", "minutes": "minutes", "wet": "wet_film", "dry": "dry_film"}
        given = {column: _quantity(column, entry.get(name)) for name, column in columns.items()}
        words: dict[str, Any] = {
            name: entry[name] for name in ("work", "reason", "note", "batch", "back_to") if name in entry
        }
        measured = {"air_temperature": seen.air, "humidity": seen.humidity, "surface_temperature": seen.metal}
        return {"place": self.places.get(entry.get("place", "")), **given, **words, **measured}

    def add_at_moment(self, entry: Scenario) -> None:
        """An entry at a moment that makes its piece stand now as the scenario tells."""
        then, evening = entry.get("then"), self.diary.evening
        moved_at = self.diary.on(evening, time.fromisoformat(then["clock"])) if then else None
        if then and moved_at and moved_at <= self.diary.now:
            self.add(moved_at, {"pieces": entry["pieces"], **then})
        piece = self.pieces(entry).with_log().get()
        path = paths([piece], self.diary.air)[piece.pk]
        self.add(MOMENTS[entry["moment"]](self.diary, piece, path, entry), entry)


def _quantity(name: str, value: float | None) -> Quantity | None:
    """As a column of the log's has it."""
    column = Step._meta.get_field(name)
    assert isinstance(column, QuantityField)
    return column.to_python(value)


def _seen(view: Outlook, entry: Scenario) -> Conditions:
    """What somebody read: typed as it stands, or what air and iron really had then."""
    if "typed" in entry:
        return Conditions(*entry["typed"])
    read, humidity = entry.get("seen", "").split(), float(view.path.hours.humidity[view.hour])
    return Conditions(
        air=round(view.air_now, 1) if "air" in read else None,
        humidity=round(humidity) if "air" in read else None,
        metal=round(view.metal_now, 1) if "metal" in read else None,
    )


# Moments at which something must have happened for a piece to stand as it does now


def damp_evening(diary: Diary, piece: Piece, path: Path, entry: Scenario) -> datetime:
    """When iron was blasted on the last evening, so that it has a few hours left."""
    begun = diary.on(diary.evening, EVENING_FROM)
    moments = [moment for moment in diary.worked(1, every=1) if moment >= begun]
    exposure = rust.Exposure(salt_shift=rust.SALT_LEVELS[piece.salt].shift)
    window = rust.coat_before(path.hours, path.metal, exposure, _positions(path, moments))
    left = window.coat_before - path.hours.position(diary.now)
    return moments[int(np.argmin(np.abs(left - LEFT_WANTED)))]


def closed_zone(diary: Diary, piece: Piece, path: Path, entry: Scenario) -> datetime:
    """When the next coat went on, so that it is now well inside its closed zone."""
    moments, layer = list(diary.worked(3)), piece.state.next_coat
    assert layer is not None  # the scenario's piece has a coat to come, with drying times
    assert layer.coating is not None
    table, slower = layer.coating.drying_table(), layer.slower_at(_quantity("dry_film", entry["dry"]))
    assert table is not None
    window = recoat_window(table, path.metal, path.hours.humidity, _positions(path, moments), slower)
    now = path.hours.position(diary.now)
    return moments[int(np.argmax(np.minimum(now - window.closed_from, window.closed_until - now)))]


def _positions(path: Path, moments: list[datetime]) -> Floats:
    return np.array([path.hours.position(moment) for moment in moments])


MOMENTS: dict[str, Callable[[Diary, Piece, Path, Scenario], datetime]] = {
    "damp evening": damp_evening,
    "closed zone": closed_zone,
}
