"""The small cast: one workshop in a hollow field, its people, places and tins."""

from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO

import factory
import numpy as np
from django.core.files.base import ContentFile
from factory.django import DjangoModelFactory
from PIL import Image

from finishing.air import models as air
from finishing.coatings import models as coatings
from finishing.media import models as media
from finishing.science.hours import Hours
from finishing.workshops import models as workshops
from projects.record import models as projects
from projects.record.images import photograph

NO_ROW = "00000000-0000-4000-8000-000000000000"  # no row has it; always the same, since it stands in names of tests


class UserFactory(DjangoModelFactory):
    class Meta:
        model = workshops.User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    password = factory.django.Password("iron and grit")


class WorkshopFactory(DjangoModelFactory):
    class Meta:
        model = workshops.Workshop

    name = "Hollowfield Works"
    latitude = 52.4
    longitude = -1.9
    time_zone = "Europe/London"
    currency = "GBP"
    weather_service = workshops.Workshop.WeatherService.NONE


class MembershipFactory(DjangoModelFactory):
    class Meta:
        model = workshops.Membership

    workshop = factory.SubFactory(WorkshopFactory)
    user = factory.SubFactory(UserFactory)
    role = workshops.Membership.Role.OWNER


class PlaceFactory(DjangoModelFactory):
    class Meta:
        model = workshops.Place

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda n: f"yard {n}")
    kind = workshops.Place.Kind.YARD


class CoatingFactory(DjangoModelFactory):
    """A quick primer; its drying table comes from `with_drying_table`."""

    class Meta:
        model = coatings.Coating

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda n: f"grey primer {n}")
    generic_type = coatings.GenericType.ALKYD_PRIMER
    is_primer = True
    volume_solids = 45
    dry_film = 40
    density = 1.4
    temperature_min = 5
    temperature_max = 35
    humidity_max = 85


class DryingPointFactory(DjangoModelFactory):
    class Meta:
        model = coatings.DryingPoint

    workshop = factory.SelfAttribute("coating.workshop")
    coating = factory.SubFactory(CoatingFactory)
    temperature = 20
    touch = 1
    handle = 4
    recoat_from = 6


class TinSizeFactory(DjangoModelFactory):
    class Meta:
        model = coatings.TinSize

    workshop = factory.SelfAttribute("coating.workshop")
    coating = factory.SubFactory(CoatingFactory)
    litres = 1
    price = "18.00"


class SystemFactory(DjangoModelFactory):
    class Meta:
        model = coatings.System

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda n: f"system {n}")


class LayerFactory(DjangoModelFactory):
    class Meta:
        model = coatings.Layer

    workshop = factory.SelfAttribute("system.workshop")
    system = factory.SubFactory(SystemFactory)
    position = factory.Sequence(lambda n: n + 1)
    kind = coatings.Layer.Kind.COAT
    coating = factory.SubFactory(CoatingFactory, workshop=factory.SelfAttribute("..workshop"))


class MediumFactory(DjangoModelFactory):
    """Medium crushed glass."""

    class Meta:
        model = media.Medium

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda n: f"crushed glass {n}")
    kind = "crushed glass"
    free_silica = 1
    iron = "free"
    bulk_density = 1360
    profile_low = 40
    profile_high = 65
    bag = 25


class ReadingFactory(DjangoModelFactory):
    class Meta:
        model = air.Reading

    workshop = factory.SelfAttribute("place.workshop")
    place = factory.SubFactory(PlaceFactory)
    taken_at = datetime(2026, 5, 12, 9, tzinfo=UTC)
    temperature = 18
    humidity = 55


class SensorFactory(DjangoModelFactory):
    class Meta:
        model = air.Sensor

    workshop = factory.SelfAttribute("place.workshop")
    place = factory.SubFactory(PlaceFactory)
    name = "by the door"


class InvitationFactory(DjangoModelFactory):
    class Meta:
        model = workshops.Invitation


def with_drying_table(coating: coatings.Coating) -> coatings.Coating:
    """The table of a quick alkyd primer, round numbers of our own."""
    for temperature, touch, handle, recoat in ((10, 2, 8, 12), (20, 1, 4, 6), (30, 0.5, 2, 3)):
        DryingPointFactory(coating=coating, temperature=temperature, touch=touch, handle=handle, recoat_from=recoat)
    return coating


class DesignFactory(DjangoModelFactory):
    class Meta:
        model = projects.Design

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda n: f"treadle press {n}")


class PartFactory(DjangoModelFactory):
    """A small frame: 12 kg and half a square metre, so that volume by area is 3.3 mm."""

    class Meta:
        model = projects.Part

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(DesignFactory)
    name = factory.Sequence(lambda n: f"frame {n}")
    mass = 12
    area = 0.5


class ProjectFactory(DjangoModelFactory):
    class Meta:
        model = projects.Project

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(DesignFactory)
    name = factory.Sequence(lambda n: f"press restored {n}")


class PieceFactory(DjangoModelFactory):
    """A piece of `part`, in a project of the part's design."""

    class Meta:
        model = projects.Piece

    workshop = factory.SelfAttribute("part.workshop")
    part = factory.SubFactory(PartFactory)
    project = factory.SubFactory(ProjectFactory, design=factory.SelfAttribute("..part.design"))
    place = factory.SubFactory(PlaceFactory, workshop=factory.SelfAttribute("..workshop"))
    mark = factory.Sequence(lambda n: f"F-{n:02}")


class StepFactory(DjangoModelFactory):
    class Meta:
        model = projects.Step

    workshop = factory.SelfAttribute("piece.workshop")
    piece = factory.SubFactory(PieceFactory)
    kind = projects.Step.Kind.BLASTED
    happened_at = datetime(2026, 5, 12, 9, tzinfo=UTC)
    by = factory.SubFactory(UserFactory)


def steady_forecast(workshop, start, hours=24 * 20, temperature=20.0, humidity=55.0, rain=0.0, **columns):
    """A forecast of the same air in every hour: its answers can be worked out in the head."""
    run = Hours.from_arrays(
        np.datetime64(start.replace(tzinfo=None), "h"),
        temperature=np.full(hours, temperature),
        humidity=humidity,
        rain=rain,
        rain_chance=0.0,
        **columns,
    )
    return air.Forecast.objects.create(
        workshop=workshop,
        service="met norway",
        fetched_at=start,
        checked_at=start,
        hours=air.Forecast.columns(run),
    )


class MachineFactory(DjangoModelFactory):
    class Meta:
        model = projects.Machine

    workshop = factory.SelfAttribute("project.workshop")
    project = factory.SubFactory(ProjectFactory)
    number = factory.Sequence(lambda n: str(100 + n))


class FilmReadingFactory(DjangoModelFactory):
    """95 µm on smooth steel over a medium profile, where 70 µm are asked."""

    class Meta:
        model = projects.FilmReading

    workshop = factory.SelfAttribute("piece.workshop")
    piece = factory.SubFactory(PieceFactory)
    spot = "rim"
    reading = 95
    correction = 25
    asked = 70


class RemovalFactory(DjangoModelFactory):
    """Tag 1, off with nothing found."""

    class Meta:
        model = projects.Removal

    workshop = factory.SelfAttribute("machine.workshop")
    machine = factory.SubFactory(MachineFactory)
    tag = "1"


class OpenedTinFactory(DjangoModelFactory):
    class Meta:
        model = projects.OpenedTin

    workshop = factory.SelfAttribute("coating.workshop")
    coating = factory.SubFactory(CoatingFactory)
    opened_on = date(2026, 5, 1)
    by = factory.SubFactory(UserFactory)


class LoanFactory(DjangoModelFactory):
    """A piece at a turner's, with no day said."""

    class Meta:
        model = projects.Loan

    workshop = factory.SelfAttribute("piece.workshop")
    project = factory.SelfAttribute("piece.project")
    piece = factory.SubFactory(PieceFactory)
    borrower = "a turner"
    lent_on = date(2026, 5, 1)
    by = factory.SubFactory(UserFactory)


class CastingSizeFactory(DjangoModelFactory):
    class Meta:
        model = projects.CastingSize

    workshop = factory.SelfAttribute("part.workshop")
    part = factory.SubFactory(PartFactory)
    what = "length"
    size = 300


class WordingFactory(DjangoModelFactory):
    class Meta:
        model = projects.Wording

    workshop = factory.SelfAttribute("part.workshop")
    part = factory.SubFactory(PartFactory, nameplate=True)
    words = "LOWER MILL\nNo. 3"
    by = factory.SubFactory(UserFactory)


class FollowerFactory(DjangoModelFactory):
    class Meta:
        model = projects.Follower

    workshop = factory.SelfAttribute("project.workshop")
    project = factory.SubFactory(ProjectFactory)


def photo_of(step, sent: bytes):
    """A photo kept as the log keeps it; tests keep their files in a folder of their own."""
    return _photo(sent, workshop=step.workshop, project=step.piece.project, step=step, taken_at=step.happened_at)


def photo_of_machine(machine, sent: bytes):
    """One that no entry shows."""
    own = {"workshop": machine.workshop, "project": machine.project, "machine": machine}
    return _photo(sent, taken_at=datetime(2026, 5, 11, 9, tzinfo=UTC), **own)


def _photo(sent: bytes, **columns):
    kept = photograph(sent, 10**7, 10**8)
    row = projects.Photo(width=kept.width, height=kept.height, stage="found", **columns)
    row.image.save("photo.jpg", ContentFile(kept.image), save=False)
    row.thumbnail.save("photo.jpg", ContentFile(kept.thumbnail), save=False)
    row.save()
    return row


def grey_photo() -> bytes:
    sent = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(sent, "JPEG")
    return sent.getvalue()


def mild_year(workshop, year=2025):
    """A past year of one mild day after another."""
    mild = {"temperature": 15.0, "humidity": 55.0, "wind": 2.0, "cloud": 1.0, "sun": 0.0, "rain": 0.0}
    hours = Hours.from_arrays(np.datetime64(f"{year}-01-01T00"), **{name: np.full(8760, v) for name, v in mild.items()})
    place = {"latitude": workshop.latitude, "longitude": workshop.longitude}
    row = air.YearOfWeather(workshop=workshop, kind="past", year=year, label=str(year), source="archive", **place)
    row.keep(hours)
    row.save()
    return row


class VisitFactory(DjangoModelFactory):
    """A day from eight to four: 60 to come, 30 to travel, 90 an hour; 2.6 m³/min, 7 bar, 6 mm in a hose of 25."""

    class Meta:
        model = projects.Visit

    workshop = factory.SubFactory(WorkshopFactory)
    date = date(2026, 5, 12)
    contractor = "Grit Brothers"
    call_out = Decimal(60)
    travel = Decimal(30)
    rate = Decimal(90)
    nozzle_bore = 6
    hose_bore = 25
    most_pressure = 7
    free_air = 2.6


class VisitPieceFactory(DjangoModelFactory):
    """Rusty and ribbed, to Sa 2½ with medium crushed glass, from 2 to 5 bar."""

    class Meta:
        model = projects.VisitPiece

    workshop = factory.SelfAttribute("visit.workshop")
    visit = factory.SubFactory(VisitFactory, workshop=factory.SelfAttribute("..piece.workshop"))
    piece = factory.SubFactory(PieceFactory)
    medium = factory.SubFactory(MediumFactory, workshop=factory.SelfAttribute("..workshop"))
    surface = "plain rust"
    shape = "ribbed casting"
    grade = "Sa 2½"
    pressure_start = 2
    pressure_most = 5


class VisitTaskFactory(DjangoModelFactory):
    class Meta:
        model = projects.VisitTask

    workshop = factory.SelfAttribute("visit.workshop")
    visit = factory.SubFactory(VisitFactory)
    phase = projects.VisitTask.Phase.BEFORE
    what = "Plug and mask"


class PlanRunFactory(DjangoModelFactory):
    """Asked for and done."""

    class Meta:
        model = projects.PlanRun
        skip_postgeneration_save = True

    workshop = factory.SubFactory(WorkshopFactory)
    state = projects.PlanRun.State.DONE
    asked_at = datetime(2026, 5, 12, 7, tzinfo=UTC)

    @factory.post_generation
    def projects(self, create, extracted, **kwargs):
        self.projects.set(extracted or [])


class PlanFactory(DjangoModelFactory):
    class Meta:
        model = projects.Plan

    workshop = factory.SelfAttribute("run.workshop")
    run = factory.SubFactory(PlanRunFactory)
    made_at = datetime(2026, 5, 12, 7, tzinfo=UTC)
    checked_at = factory.SelfAttribute("made_at")
    finish_at = datetime(2026, 5, 14, 15, tzinfo=UTC)


class SlotFactory(DjangoModelFactory):
    """A coat on a Tuesday morning."""

    class Meta:
        model = projects.Slot
        skip_postgeneration_save = True

    workshop = factory.SelfAttribute("plan.workshop")
    plan = factory.SubFactory(PlanFactory)
    rack = "rack 1"
    key = factory.Sequence(lambda n: f"rack 1 coat {n}")
    label = "coat of green enamel"
    kind = projects.Slot.Kind.COAT
    place = factory.SubFactory(PlaceFactory, workshop=factory.SelfAttribute("..workshop"))
    begin = datetime(2026, 5, 12, 9, tzinfo=UTC)
    end = datetime(2026, 5, 12, 11, tzinfo=UTC)

    @factory.post_generation
    def pieces(self, create, extracted, **kwargs):
        self.pieces.set(extracted or [])

    @factory.post_generation
    def people(self, create, extracted, **kwargs):
        self.people.set(extracted or [])


class CalendarAddressFactory(DjangoModelFactory):
    class Meta:
        model = projects.CalendarAddress

    workshop = factory.SubFactory(WorkshopFactory)


class TryOutFactory(DjangoModelFactory):
    """Colours on a photo, whole and marked by tone; the photo is given."""

    class Meta:
        model = projects.TryOut

    workshop = factory.SelfAttribute("photo.workshop")
    part = factory.LazyAttribute(lambda row: row.photo.step.piece.part)


class CandidateFactory(DjangoModelFactory):
    class Meta:
        model = projects.Candidate

    workshop = factory.SelfAttribute("try_out.workshop")
    name = factory.Sequence(lambda n: f"cream {n}")
    letters = "#e6cf8f"
    body = "#26364a"
