"""What the air makes of pieces is kept only while it rests on the same: kept and reckoned anew, the answer is one."""

import uuid
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from finishing.air.domain.outside_air import air_stamp
from finishing.coatings.models import Coating, DryingPoint, Layer
from finishing.workshops.models import DayOff, Place
from projects.record.actions.log import log_step
from projects.record.domain.states import read_states
from projects.record.models import Part, Piece, Step
from projects.work.domain.kept_air import forget_runs, reckoned
from projects.work.domain.moves import move
from projects.work.domain.outlook import Outlook, outlooks, shared_outlooks
from tests import factories

NOW = datetime(2026, 5, 12, 9, 5, tzinfo=UTC)
RECKONED = [name for name, value in vars(Outlook).items() if type(value) is reckoned]
OF_THE_MOMENT = (
    "metal_now",
    "reasons_now",
    "next_span",
    "may_wait",
    "rust_spent",
    "overdue",
    "sweats",
    "air_not_known",
)


@pytest.fixture(autouse=True)
def _nothing_is_kept():
    forget_runs()


@pytest.fixture
def pieces(workshop, owner):
    """Two blasted this morning, two primed yesterday, one raw: of one part, in a yard with a forecast of four days."""
    factories.steady_forecast(workshop, NOW - timedelta(days=3), hours=24 * 7, temperature=12.0, humidity=70.0)
    primer = factories.with_drying_table(factories.CoatingFactory(workshop=workshop))
    layer = factories.LayerFactory(coating=primer, system__workshop=workshop, position=1)
    factories.LayerFactory(coating=primer, system=layer.system, position=2)
    part = factories.PartFactory(design__workshop=workshop, system=layer.system)
    project, yard = factories.ProjectFactory(design=part.design), factories.PlaceFactory(workshop=workshop)
    made = [factories.PieceFactory(part=part, project=project, place=yard, mark=f"P-{n}") for n in range(5)]
    log(owner, made[:2], Step.Kind.BLASTED, 2)
    log(owner, made[2:4], Step.Kind.BLASTED, 26)
    log(owner, made[2:4], Step.Kind.COATED, 24, layer=layer, coating=primer)
    return made


def log(owner, pieces, kind, hours_ago, **own):
    log_step(
        by=owner,
        key=uuid.uuid4(),
        kind=kind,
        happened_at=NOW - timedelta(hours=hours_ago),
        pieces=pieces,
        of_each={piece.pk: own for piece in pieces},
    )


def ahead(workshop, now=NOW):
    workshop.refresh_from_db()
    return {outlook.piece.mark: outlook for outlook in outlooks(workshop, read_states(Piece.objects.in_order()), now)}


def plain(value):
    """A value with arrays in it, so that two can be compared."""
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.tobytes()
    if is_dataclass(value):
        return [plain(getattr(value, field.name)) for field in fields(value)]
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return repr(value) if isinstance(value, float | np.generic) else value  # what is not known equals itself


def told(outlook, names=(*RECKONED, *OF_THE_MOMENT)):
    return {name: plain(getattr(outlook, name)) for name in names}


def all_told(workshop):
    return {mark: told(outlook) for mark, outlook in ahead(workshop).items()}


def test_nothing_that_is_kept_depends_on_the_minute(workshop, pieces):
    early = {mark: told(outlook, RECKONED) for mark, outlook in ahead(workshop).items()}
    forget_runs()
    late = {mark: told(outlook, RECKONED) for mark, outlook in ahead(workshop, NOW + timedelta(minutes=50)).items()}
    assert len(RECKONED) > 10
    assert early == late


def test_pieces_that_are_alike_share_what_is_reckoned_and_a_page_of_one_reads_the_same(workshop, pieces):
    listed = ahead(workshop)
    assert listed["P-0"].refused is listed["P-1"].refused
    assert listed["P-2"].path is listed["P-3"].path
    assert listed["P-0"].path is not listed["P-2"].path
    (alone,) = outlooks(workshop, list(Piece.objects.with_log().filter(mark="P-3")), NOW + timedelta(minutes=20))
    assert alone.refused is listed["P-3"].refused


def test_after_an_entry_only_the_pieces_of_that_entry_are_reckoned_anew(workshop, owner, pieces):
    before = ahead(workshop)
    log(owner, pieces[:1], Step.Kind.COATED, 0.01, layer=Layer.objects.first(), coating=Coating.objects.get())
    after = ahead(workshop)
    same = {mark for mark in before if before[mark].path is after[mark].path}
    assert same == {"P-1", "P-2", "P-3", "P-4"}


def test_one_outlook_for_all_that_are_alike_is_as_good_as_their_own(workshop, pieces):
    elsewhere = factories.ProjectFactory(design=pieces[1].part.design, name=f"{pieces[0].project.name}, the next run")
    Piece.objects.filter(pk=pieces[1].pk).update(project=elsewhere)
    shared = shared_outlooks(workshop, read_states(Piece.objects.in_order()), NOW)
    assert [piece.mark for piece in shared[0].one_a_project] == ["P-1", "P-0"]
    assert [[piece.mark for piece in outlook.pieces] for outlook in shared] == [["P-0", "P-1"], ["P-2", "P-3"], ["P-4"]]
    forget_runs()
    own = ahead(workshop)
    assert all(told(outlook) == told(own[piece.mark]) for outlook in shared for piece in outlook.pieces)


def of_another_hour(workshop, place):
    factories.ReadingFactory(place=place, taken_at=NOW - timedelta(hours=3), temperature=4, humidity=90)


CHANGES = {
    "a time of the sheet": lambda shop, yard: DryingPoint.objects.update(recoat_from=20),
    "a limit of the sheet": lambda shop, yard: Coating.objects.update(humidity_max=60),
    "a wait": lambda shop, yard: Layer.objects.update(wait=2000),
    "minutes of a layer": lambda shop, yard: Layer.objects.update(minutes=300),
    "what is stirred in": lambda shop, yard: [
        layer.additives.add(layer.coating.additives.create(workshop=shop, name="oil", dose=5, slower=2.5))
        for layer in Layer.objects.all()
    ],
    "an area": lambda shop, yard: Part.objects.update(area=7),
    "a mass": lambda shop, yard: Part.objects.update(mass=60),
    "salt": lambda shop, yard: Piece.objects.update(salt="coast"),
    "salt of the workshop": lambda shop, yard: type(shop).objects.update(salt="coast"),
    "hours of work": lambda shop, yard: type(shop).objects.update(work_from="11:00"),
    "a day off": lambda shop, yard: DayOff.objects.create(
        workshop=shop, first=date(2026, 5, 12), last=date(2026, 5, 13), reason="fair"
    ),
    "a roof": lambda shop, yard: Place.objects.filter(pk=yard.pk).update(kind="shop", held_at=18),
    "a reading": of_another_hour,
    "a forecast": lambda shop, yard: factories.steady_forecast(shop, NOW - timedelta(hours=1), humidity=95.0),
    "another place": lambda shop, yard: Piece.objects.update(
        place=factories.PlaceFactory(workshop=shop, kind="shop", held_at=20)
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_whatever_it_rests_on_changes_it(workshop, pieces, change):
    before = all_told(workshop)
    change(workshop, pieces[0].place)
    kept = all_told(workshop)
    forget_runs()
    assert kept == all_told(workshop)
    assert kept != before


def test_a_reading_in_one_place_leaves_what_stands_in_another_as_it_was(workshop, pieces):
    """Also what would become of it if it were moved where the reading is for."""
    shop = factories.PlaceFactory(workshop=workshop, kind="shop", held_at=20)
    beside = factories.PlaceFactory(workshop=workshop, kind="yard", air_of=shop)
    Piece.objects.filter(mark__in=["P-0", "P-1"]).update(place=shop)
    before, told_before = ahead(workshop), all_told(workshop)
    coldest = move(before["P-2"], shop).margin
    factories.ReadingFactory(place=shop, taken_at=NOW - timedelta(minutes=10), temperature=4, humidity=90)
    after = ahead(workshop)
    assert {mark for mark in after if after[mark].path is before[mark].path} == {"P-2", "P-3", "P-4"}
    assert after["P-2"].air.of(pieces[2].place) is before["P-2"].air.of(pieces[2].place)
    moved = move(after["P-2"], shop).margin
    kept = all_told(workshop)
    assert kept != told_before
    forget_runs()
    assert kept == all_told(workshop)
    assert plain(moved) == plain(move(ahead(workshop)["P-2"], shop).margin) != plain(coldest)
    assert beside.pk not in air_stamp(workshop, NOW, NOW).same_places(air_stamp(workshop, NOW - timedelta(1), NOW))


def test_a_reading_that_takes_the_place_of_another_changes_it(workshop, pieces):
    of_another_hour(workshop, pieces[0].place)
    before = all_told(workshop)
    reading = pieces[0].place.readings.get()
    reading.delete()
    factories.ReadingFactory(place=reading.place, taken_at=reading.taken_at, temperature=5, humidity=90)
    kept = all_told(workshop)
    forget_runs()
    assert before != kept == all_told(workshop)
