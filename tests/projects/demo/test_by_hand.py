"""Numbers of the demonstration's pages, each reckoned anew from what its working prints and from nothing else."""

import re
from math import exp, log, prod

import pytest
from django.test import Client
from django.urls import reverse

from finishing.workshops.models import User
from projects.record.models import Design, Piece, Project, Visit
from tests.workings import numbers, working, workings

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture
def page(demonstration):
    client = Client()
    client.force_login(User.objects.get(username="owner"))
    return lambda name, *args, **asked: client.get(reverse(name, args=args), asked)


def of_piece(mark):
    return "piece", Piece.objects.get(mark=mark).pk


def near(told, printed):
    """To half of the last decimal that is printed, and what a hand's own rounding adds."""
    decimals = len(printed.partition(".")[2])
    return pytest.approx(told, abs=0.51 * 10**-decimals)


def first_number(text):
    return f"{text} ".split(" ")[0].rstrip(",").replace("−", "-")


def pressure(celsius):
    """Magnus form, with the constants that the page of a dew point prints."""
    return exp(17.625 * celsius / (243.04 + celsius))


def test_how_much_of_the_time_bare_is_spent(page):
    """Hours by the hours allowed, row by row: the whole budget at coat-before, and what the headline says by now."""
    read = working(page(*of_piece("2-FA")), "Rust budget")
    spent = read.number("B_0")
    for row in read.ledger:
        allowed = numbers(row["allowed"])
        spent += numbers(row["hours"])[0] / allowed[0] if allowed else 0.0
        assert spent == pytest.approx(numbers(row["so far"])[0], abs=0.002)
    assert spent == pytest.approx(1.0, abs=0.005)
    by_now = [row for row in read.ledger if row["Told by"].startswith("reading")][:-1]
    assert 100 * numbers(by_now[-1]["so far"])[0] == pytest.approx(read.told, abs=0.6)
    assert len(read.ledger) >= 3


def test_how_long_iron_may_stay_bare_in_this_air(page):
    read = working(page("day-sheet"), "Freshly blasted")
    metal, dew = read.number("metal"), read.number("dew point")
    damp = first_number(read.inputs["humidity at the metal, RH_s"])
    assert 100 * pressure(dew) / pressure(metal) == near(float(damp), damp)
    bands = ((40, 72), (50, 24), (60, 8), (70, 4), (80, 2), (85, 1), (200, 0.5))
    r = float(damp) + read.number("shift")
    assert read.told == next(hours for below, hours in bands if r < below) * read.number("the workshop's own caution")


def test_when_a_coat_is_ready(page):
    """Each hour gains its length by the time that the sheet asks at that metal; ready at 1."""
    read = working(page(*of_piece("WT")), "Recoat from")
    gained = sum(numbers(row["gained"])[0] for row in read.ledger)
    assert gained == pytest.approx(1.0, abs=0.001 * len(read.ledger))
    for row in read.ledger:
        assert 0 <= numbers(row["gained"])[0] <= 1 / numbers(row["asked"])[0] + 0.001


def test_what_the_sheet_asks_at_this_temperature(page):
    """Straight in ln t over 1/T between the rows on both sides."""
    read = working(page(*of_piece("WT")), "Recoat from")
    sheet = sorted((numbers(key)[0], numbers(value)[0]) for key, value in read.inputs.items() if "sheet at" in key)
    celsius = read.number("temperature")
    (cold, longer), (warm, shorter) = next(
        pair for pair in zip(sheet, sheet[1:], strict=False) if pair[0][0] <= celsius <= pair[1][0]
    )
    share = (1 / (celsius + 273.15) - 1 / (cold + 273.15)) / (1 / (warm + 273.15) - 1 / (cold + 273.15))
    hours = exp(log(longer) + (log(shorter) - log(longer)) * share)
    slower = read.number("factor for damp air") * read.number("factor for film")
    assert hours * slower == pytest.approx(read.told, rel=0.003)


def test_how_far_metal_is_above_its_dew_point(page):
    margins = [each for mark in ("2-FA", "WT", "2-AA") for each in workings(page(*of_piece(mark)))]
    margins = [read for read in margins if read.name == "Dew-point margin"]
    assert len(margins) >= 2
    for read in margins:
        metal, dew = read.number("metal"), read.number("dew point")
        margin, damp = numbers(read.result)[:2]
        assert metal - dew == near(margin, first_number(read.result))
        assert min(100, 100 * pressure(dew) / pressure(metal)) == pytest.approx(damp, abs=0.51)


def test_how_near_the_dew_point_a_piece_comes_that_is_moved(page):
    answer = page(*of_piece("WT"))
    read = working(answer, "Least margin after the move")
    margins = []
    for row in read.ledger:
        margins.append(numbers(row["metal"])[0] - numbers(row["dew point"])[0])
        assert margins[-1] == near(numbers(row["margin"])[0], first_number(row["margin"]))
    least = -read.told if "under" in read.result else read.told
    assert min(margins) == near(least, first_number(read.result))
    ends = [read for read in workings(answer) if read.name.startswith("When the margin is")]
    assert ends
    for read in ends:
        now, later = read.number("margin at the full hour"), read.number("margin an hour later")
        asked = read.number("margin asked")
        assert 60 * (now - asked) / (now - later) == pytest.approx(read.told, abs=0.51)


def test_litres_of_paint(page):
    """Each coat of the list is opened by its link, as where there is no script."""
    paints = "paint-list", Project.objects.get(pieces__mark="WT").pk
    coats = re.findall(r'href="\?coat=([^"#&]+)', page(*paints).content.decode())
    read_back = [read for coat in coats for read in workings(page(*paints, coat=coat))]
    litres = [read for read in read_back if read.formula.startswith("V = A")]
    assert len(litres) > 3
    for read in litres:
        film = read.number("coats") * read.number("dry film") + read.number("dead film")
        needed = read.number("area") * film / (10 * read.number("volume solids")) / (1 - read.number("loss") / 100)
        assert needed == pytest.approx(read.told, rel=0.001)


def test_minutes_and_grit_of_a_blasting(page):
    """Rate from flow, use and what is multiplied with it; minutes by the time that the nozzle is open; grit thrown."""
    answer = page("blast-sheet", Visit.objects.still_open()[0].pk)
    rate, clock, grit = (working(answer, name) for name in ("cleaning rate", "time on the clock", "medium to buy"))
    flow, use, *factors = (numbers(value)[0] for value in rate.inputs.values())
    assert flow / use * prod(factors) == pytest.approx(rate.told, rel=0.02)
    area, per_hour, open_for = clock.number("area"), clock.number("rate"), clock.number("nozzle open")
    assert area / per_hour == pytest.approx(open_for, rel=0.02)
    assert open_for / 0.7 == pytest.approx(clock.told, rel=0.03)
    assert f"{round(60 * clock.told)} min" in answer.content.decode()
    assert grit.number("medium thrown") / grit.number("cycles") == near(grit.told, first_number(grit.result))


def test_what_the_contractor_asks(page):
    read = working(page("blast-sheet", Visit.objects.still_open()[0].pk), "cost of the day")
    hours, minutes = numbers(read.inputs["hours"])
    asked = read.number("call-out") + read.number("travel") + read.number("rate") * (hours + minutes / 60)
    assert asked == near(read.told, first_number(read.result))


def test_pressure_in_the_pot(page):
    read = working(page("blast-sheet", Visit.objects.still_open()[0].pk), "pressure in the pot")
    assert sum(numbers(value)[0] for value in read.inputs.values()) == pytest.approx(read.told, abs=0.01)


def of_batch():
    return Design.objects.get(hidden=False).pk


def test_work_of_our_own_hands(page):
    """Minutes by the piece, wage and overhead."""
    read = working(page("ordering", of_batch()), "cost of fettling")
    set_up, each = numbers(read.inputs["own hands"])
    wage, overhead = numbers(read.inputs["rate and overhead"])
    work = wage * (set_up + each * read.number("pieces that it meets")) / 60
    assert work == near(read.number("work"), first_number(read.inputs["work"]))
    assert work * (1 + overhead / 100) == pytest.approx(read.told, abs=0.01)


def test_what_a_machine_costs(page):
    costs = [read for read in workings(page("design-costs", of_batch())) if read.name.startswith("cost of one machine")]
    assert len(costs) >= 3
    for read in costs:
        parts = [numbers(value)[0] for key, value in read.inputs.items() if key not in ("all of them", "machines")]
        assert sum(parts) == near(read.number("all of them"), first_number(read.inputs["all of them"]))
        assert sum(parts) / read.number("machines") == near(read.told, first_number(read.result))


def test_what_makes_a_step_of_the_ladder(page):
    steps = [read for read in workings(page("design-costs", of_batch())) if read.name.startswith("step from")]
    assert len(steps) >= 3
    for read in steps:
        assert sum(numbers(value)[0] for value in read.inputs.values()) == pytest.approx(read.told, abs=0.005)


def test_price_and_tax(page):
    answer = page("price", of_batch())
    read = working(answer, "price by margin")
    assert read.number("cost") / (1 - read.number("margin") / 100) == near(read.told, first_number(read.result))
    taxed = working(answer, "price with tax")
    assert taxed.number("without tax") == read.told
    assert read.told * (1 + taxed.number("rate") / 100) == near(taxed.told, first_number(taxed.result))


def test_lowest_cash(page):
    read = working(page("price", of_batch()), "lowest cash")
    so_far, lowest = 0.0, 0.0
    for label, value in read.inputs.items():
        so_far += numbers(value)[0]
        lowest = min(lowest, so_far) if label != "opening" else so_far
    assert lowest == pytest.approx(read.told, abs=0.005)


SHAPE = "casting by weight and wall"
CASTING = {"shape": SHAPE, "mass": 60, "wall": 12, "material": "grey iron", "texture": 0, "ribbing": 0, "pieces": 1}


def test_thinner_wet_film_and_area(page):
    film = working(page("calculator", "wet-film", dry_film=40, volume_solids=45, thinning=10), "wet film")
    assert film.number("dry film") * (100 + film.number("thinning")) / film.number("volume solids") == near(
        film.told, first_number(film.result)
    )
    mixed = working(page("calculator", "mixing", litres=1.5, work=60, temperature=20, thinning=12), "thinner")
    assert mixed.number("paint") * mixed.number("thinning") / 100 == near(mixed.told, first_number(mixed.result))
    area = working(page("calculator", "area", **CASTING), "painted area")
    skin = 2 * area.number("mass") / (area.number("density") * area.number("wall") / 1000)
    assert skin == near(area.told, first_number(area.result))
