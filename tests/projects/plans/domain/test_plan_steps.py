"""Steps of a rack in steady air: turned over, wheeled in to dry, kept out of a closed zone, within a mix's pot life."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from finishing.air.models import Forecast
from finishing.coatings.models import Layer, System
from finishing.library.actions import load_library
from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.problem import NEVER
from finishing.science.scheduling.solve import solve
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Piece, Project, Step
from tests.factories import (
    LayerFactory,
    PartFactory,
    PieceFactory,
    ProjectFactory,
    StepFactory,
    SystemFactory,
    steady_forecast,
)

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock


@pytest.fixture
def lay_out(workshop, owner, shop):
    """A project's problem; everything is blasted in the shop's own cabinet, whose air is dry at 16 °C and more."""

    def laid_out(system, pieces=1, **settings):
        shop.cabinet = True
        shop.save()
        part = PartFactory(design__workshop=workshop, name="frame", system=system)
        project = ProjectFactory(design=part.design)
        for n in range(pieces):
            PieceFactory(project=project, part=part, place=shop, mark=f"F-{n + 1}", salt="clean")
        steady_forecast(workshop, NOW)
        workshop.refresh_from_db()
        return lay_out_rows(Terms(workshop, settings), [project], NOW)

    return laid_out


def steps(layout):
    return {name.split(": ")[1]: step for name, step in layout.problem.tasks.items()}


def planned(layout):
    """Begin and dry of each step of the best plan."""
    plan = solve(layout.problem, effort=1.0).schedule
    assert check_feasibility(plan) == []
    return {name.split(": ")[1]: slot for name, slot in plan.tasks.items()}


def test_a_piece_is_turned_over_once_its_first_side_may_be_handled(workshop, lay_out, primer):
    """At 20 °C handled four hours after the last stroke, then turned, then coated on its second side.

    Iron of 55 % is coated within 7¾ hours.
    """
    system = SystemFactory(workshop=workshop, name="primer on two sides")
    for position, side in enumerate((Layer.Side.FIRST, Layer.Side.SECOND), start=1):
        LayerFactory(system=system, position=position, coating=primer, side=side)
    layout = lay_out(system)
    labels = list(steps(layout))
    assert labels.index("turn over for layer 2") == len(labels) - 2
    slots = planned(layout)
    first, turn, second = (slots[label] for label in labels[-3:])
    assert first.dry == first.end + 4 * 60
    assert turn.begin >= first.dry
    assert second.begin >= turn.end


def test_a_piece_coated_twice_on_each_side_is_turned_over_three_times(workshop, lay_out):
    """Each coat of the shipped system lies on the side that the one before left below."""
    load_library(workshop)
    layout = lay_out(System.objects.get(library_key="cellulose-by-sides"))
    kinds = [task.kind for task in layout.hung[0].tasks]
    assert kinds[-8:] == ["coat", "turn", "coat", "prepare", "turn", "coat", "turn", "coat"]
    assert planned(layout)


def test_blasted_iron_of_two_sides_waits_with_both_for_their_first_coat(workshop, lay_out, primer):
    system = SystemFactory(workshop=workshop, name="primer on two sides")
    for position, side in enumerate((Layer.Side.FIRST, Layer.Side.SECOND), start=1):
        LayerFactory(system=system, position=position, coating=primer, side=side)
    rust = {lag.after.split(": ")[1] for lag in lay_out(system).problem.time_lags if lag.kind == "rust"}
    assert rust == {label for label in steps(lay_out(system)) if label.startswith("coat of")}


def test_painted_in_the_open_and_wheeled_in_it_dries_at_the_shops_pace(workshop, roof, shop, lay_out, primer):
    """Worked under the roof, handled after four hours at 20 °C, carried in half an hour to 30 °C, at once.

    Recoat takes six hours at 20 and three at 30: four of six are over when it is carried, and a third of three is left.
    """
    shop.held_at = 30
    shop.save()
    system = SystemFactory(workshop=workshop, name="primer twice")
    for position in (1, 2):
        LayerFactory(system=system, position=position, coating=primer)
    layout = lay_out(system)
    coat = next(step for label, step in steps(layout).items() if label.startswith("coat of") and "layer 1" in label)
    number, option = next((n, o) for n, o in enumerate(coat.modes) if (o.place, o.stands_in) == ("Lean-to", "Shop"))
    recoat = next(lag for lag in layout.problem.time_lags if lag.before == coat.name and lag.kind == "recoat")
    assert option.dry[120] == 120 + 4 * 60
    assert option.carried[120] == 120 + 4 * 60
    assert recoat.windows[number].opens[120] == pytest.approx(120 + 5 * 60, abs=1)


def test_what_would_be_done_while_nobody_is_at_work_counts_as_done_when_they_are(workshop, lay_out, primer):
    """From the minute in which work begins each minute has its own answer; those of the night have that of the next."""
    system = SystemFactory(workshop=workshop, name="primer twice")
    for position in (1, 2):
        LayerFactory(system=system, position=position, coating=primer)
    layout = lay_out(system)
    ground = layout.ground
    evening = int(np.argmin(ground.present[ground.ends[0] :])) + ground.ends[0]  # nobody is at work from then on
    morning = int(np.argmax(ground.present[evening:])) + evening
    assert {evening, morning} <= set(ground.ends)
    assert not set(ground.ends) & set(range(evening + 1, morning))
    opens = next(lag for lag in layout.problem.time_lags if lag.kind == "recoat").windows[0].opens
    assert set(opens[evening + 1 : morning]) == {opens[morning]}
    assert opens[evening] < opens[morning] < opens[morning + 1]


def test_no_coat_falls_into_the_closed_zone(workshop, lay_out, enamel):
    """Open from six to eight hours after the last stroke, then shut until the thirtieth."""
    for point, shut, until in zip(enamel.drying_points.all(), (16, 8, 4), (60, 30, 15), strict=True):
        point.closed_from, point.closed_until = shut, until
        point.save()
    system = SystemFactory(workshop=workshop, name="enamel twice")
    for position in (1, 2):
        LayerFactory(system=system, position=position, coating=enamel)
    layout = lay_out(system)
    window = next(lag for lag in layout.problem.time_lags if lag.kind == "recoat").windows[0]
    waits = [int(getattr(window, name)[120]) - 120 for name in ("opens", "closed_from", "closed_until")]
    assert waits == [360, 480, 1800]
    assert int(window.closes[120]) == NEVER
    first, second = list(planned(layout).values())[-2:]
    assert first.end + 360 <= second.begin
    assert second.end <= first.end + 480 or second.begin >= first.end + 1800


def test_a_rack_too_large_for_its_mix_is_named_and_two_racks_are_not(workshop, lay_out, primer):
    """Two half square metres at 20 min/m² are twenty minutes of brushwork; the mix keeps eight at 20 °C."""
    primer.pot_life = [[10, 16], [20, 8], [30, 4]]
    primer.save()
    system = SystemFactory(workshop=workshop, name="two-pack primer")
    LayerFactory(system=system, position=1, coating=primer)
    apart = lay_out(system, pieces=2)
    assert [len(hung.pieces) for hung in apart.hung] == [1, 1]
    together = lay_out(system, pieces=2, largest=5)
    (why,) = {missing.why for missing in together.missing}
    assert "takes 20 min to put on, and in the hottest hour its mix keeps 8 min" in why


def test_two_racks_take_turns_where_only_one_may_lie_wet(workshop, lay_out, shop, roof, yard, primer):
    """Half a square metre each, and room for half: the second is coated when the first may be handled."""
    for place in (roof, yard):
        place.painted_in = False
        place.save()
    shop.wet_room = 0.5
    shop.save()
    system = SystemFactory(workshop=workshop, name="primer")
    LayerFactory(system=system, position=1, coating=primer)
    layout = lay_out(system, pieces=2, largest=0.5)
    one, other = sorted(
        (slot for slot in solve(layout.problem, effort=1.0).schedule.tasks.values() if "coat of" in slot.task),
        key=lambda slot: slot.begin,
    )
    assert len(layout.hung) == 2
    assert other.begin >= one.dry


def test_each_side_of_blasted_iron_has_its_first_coat_before_it_rusts(workshop, lay_out, primer):
    """Iron that is bare already, by the log: the side below waits no longer than the one above."""
    piece, system, later = _blasted_of_two_sides(workshop, lay_out, primer)
    hung = lay_out_rows(Terms(workshop, {}), [piece.project], later).hung[0]
    until = hung.outlooks[0].coat_before_at
    for coat in hung.first_coats:
        starts = np.flatnonzero(hung.ways[coat.name][0].may_start)
        assert hung.ground.moment(starts[-1] + hung.minutes(coat)) <= until
    assert [coat.layer.side for coat in hung.first_coats] == ["first", "second"]
    StepFactory(
        piece=piece, kind=Step.Kind.COATED, layer=system.layers.get(position=1), coating=primer, happened_at=later
    )
    hung = lay_out_rows(Terms(workshop, {}), [piece.project], later).hung[0]
    assert [coat.layer.side for coat in hung.first_coats] == ["second"]


def test_what_was_turned_over_is_not_turned_again(workshop, lay_out, primer):
    piece, system, later = _blasted_of_two_sides(workshop, lay_out, primer)
    first = system.layers.get(position=1)
    StepFactory(piece=piece, kind=Step.Kind.COATED, layer=first, coating=primer, happened_at=later)

    def labels():
        return [task.label for task in lay_out_rows(Terms(workshop, {}), [piece.project], later).hung[0].tasks]

    assert labels()[0] == "turn over"
    StepFactory(piece=piece, kind=Step.Kind.TURNED, happened_at=later)
    assert "turn over" not in labels()


def _blasted_of_two_sides(workshop, lay_out, primer):
    """A piece, its system, and an hour after its blasting."""
    system = SystemFactory(workshop=workshop, name="primer on two sides")
    for position, side in enumerate((Layer.Side.FIRST, Layer.Side.SECOND), start=1):
        LayerFactory(system=system, position=position, coating=primer, side=side)
    lay_out(system)
    piece = Piece.objects.get()
    StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=NOW + timedelta(hours=1))
    return piece, system, NOW + timedelta(hours=2)


def test_plan_and_piece_tell_one_time_from_which_a_coat_bears_dew(workshop, yard, roof, lay_out, primer):
    """Handled after four hours at 20 °C, which for an alkyd is when it bears dew and rain (common practice, no source);
    touch-dry, after one, stood in both. Rain from 18 o'clock (UTC) refuses in the yard what the roof allows."""
    system = SystemFactory(workshop=workshop, name="primer twice")
    for position in (1, 2):
        LayerFactory(system=system, position=position, coating=primer)
    lay_out(system)
    piece = Piece.objects.get()
    StepFactory(piece=piece, kind=Step.Kind.MOVED, happened_at=NOW - timedelta(days=1), place=roof)
    StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=NOW - timedelta(hours=14))
    below = system.layers.first()
    on = NOW - timedelta(hours=12)
    StepFactory(piece=piece, kind=Step.Kind.COATED, happened_at=on, layer=below, coating=primer)
    start = NOW - timedelta(days=2)
    Forecast.objects.all().delete()
    steady_forecast(workshop, start, hours=240, cloud=1.0, wind=3.0, rain=[0.0] * 60 + [1.0] * 180)
    hung = lay_out_rows(Terms(workshop, {}), [piece.project], NOW).hung[0]
    coat = next(task for task in hung.tasks if task.kind == "coat")
    planned = {way.place.name: way for way in hung.ways[coat.name] if way.then is None}
    outlook = hung.outlooks[0]
    hour = outlook.hour + 1
    under_roof = planned["Lean-to"]
    done = hung.ground.ends[1]
    assert under_roof.bears_dew[done] - under_roof.work.done[1] == pytest.approx(4, abs=0.01)
    assert outlook.left_at[hour] - (hour + outlook.application_h) == pytest.approx(4, abs=0.01)
    assert outlook.set_at[hour] - (hour + outlook.application_h) == pytest.approx(1, abs=0.01)
    # 40 minutes of work, four hours until it bears rain: in the yard, where metal is a little
    # colder, from minutes before 13:20 on too late, 440 minutes from now
    assert [int(way.may_start[m]) for way in (planned["Yard"], under_roof) for m in (430, 442)] == [1, 0, 1, 1]


def test_a_mix_that_stands_first_is_given_its_minutes(workshop, lay_out, primer):
    """30 min between the mix and the first stroke (10 to 30 min, common practice, no source)."""
    system = SystemFactory(workshop=workshop, name="primer once")
    LayerFactory(system=system, position=1, coating=primer)
    before = next(task.minutes for task in lay_out(system).hung[0].tasks if task.kind == "coat")
    primer.induction = 30
    primer.save()
    again = lay_out_rows(Terms(workshop, {}), list(Project.objects.all()), NOW).hung[0]
    coat = next(task for task in again.tasks if task.kind == "coat")
    assert coat.minutes == pytest.approx(before + 30)
    assert again.brushwork(coat) == pytest.approx(coat.layer.minutes_on(again.rack.area) + 30)


def test_a_part_that_stays_bare_is_in_no_plan(workshop, lay_out, primer):
    """Machined faces, brass and bearings were planned to be blasted, or told to lack a coating system."""
    system = SystemFactory(workshop=workshop, name="primer once")
    LayerFactory(system=system, position=1, coating=primer)
    lay_out(system)
    part = PartFactory(design=Project.objects.get().design, name="bush", stays_bare=True, system=None)
    bush = PieceFactory(project=Project.objects.get(), part=part, place=Piece.objects.first().place, mark="B-1")
    layout = lay_out_rows(Terms(workshop, {}), list(Project.objects.all()), NOW)
    assert bush.pk not in {outlook.piece.pk for outlook in layout.scope.outlooks} | set(layout.scope.left_out)
    assert layout.missing == []


def test_what_is_prepared_for_a_coat_is_one_go_with_it_unless_something_must_dry_between(workshop, lay_out, primer):
    """Wiped, and 15 minutes later coated; rubbed down, tacked off and coated in one go of 12, 2 and 20 min/m²."""
    system = SystemFactory(workshop=workshop, name="primer, rubbed down, primer")
    kinds = Layer.Kind
    again = (kinds.RUB_DOWN, 12, 0), (kinds.TACK_OFF, 2, 0), (kinds.COAT, 20, 0)
    for position, (kind, minutes, wait) in enumerate(((kinds.WIPE, 3, 15), (kinds.COAT, 20, 0), *again), start=1):
        coating = primer if kind == kinds.COAT else None
        LayerFactory(system=system, position=position, kind=kind, coating=coating, minutes=minutes, wait=wait)
    hung = lay_out(system).hung[0]
    wiped, first, second = hung.tasks[-3:]
    around, area = workshop.rates.around_a_coat, hung.rack.area
    assert (wiped.told, wiped.minutes) == ("wipe", 3 * area)
    assert (first.prepared, first.minutes) == ((), 20 * area + around)
    assert second.told == f"rub down, tack off and {second.label}"
    assert (second.minutes, second.people) == (34 * area + around, 1)
