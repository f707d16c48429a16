"""Film and paint against published spreading rates, wet films, profile losses and worked quantities."""

from math import isnan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import film
from finishing.science.sources import SOURCES
from finishing.science.surface import Range
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

from .published import rows

dry_films = st.floats(5, 300)
solids = st.floats(15, 100)
thinnings = st.floats(0, 150)
losses = st.floats(0, 90)
areas = st.floats(0.01, 500)


def percent(number):
    return Quantity(number, "percent")


def microns(number):
    return Quantity(number, "µm")


def square_metres(number):
    return Quantity(number, "m**2")


@pytest.mark.parametrize("row", rows("spreading_rate"), ids=lambda row: f"{row['paint']} {row['dry_film_um']}")
def test_theoretical_spreading_rate_agrees_with_what_is_published(row):
    """Within 1.6 %: the specifications were rounded on the way through US units and back."""
    rate = film.spreading_rate(percent(float(row["volume_solids_percent"])), microns(float(row["dry_film_um"])))
    assert rate.to("m**2/L").magnitude == pytest.approx(float(row["rate_m2_per_litre"]), rel=0.016)


def test_spreading_rate_agrees_in_us_units():
    """ft²/gal = 1604·VS/DFT: 65 % at 5 mil is 208.52 [SPREADING-RATE-US]."""
    rate = film.spreading_rate(percent(65), Quantity(5, "mil"))
    assert rate.to("ft**2/gallon").magnitude == pytest.approx(208.52, rel=5e-4)  # 1604 is itself rounded


@pytest.mark.parametrize("row", rows("wet_film"), ids=lambda row: f"{row['dry_film_um']} µm dry")
def test_wet_film_agrees_with_what_is_published(row):
    wet = film.wet_film_from_dry_film(
        microns(float(row["dry_film_um"])),
        percent(float(row["volume_solids_percent"])),
        percent(float(row["thinning_percent"])),
    )
    assert wet.magnitude == pytest.approx(float(row["wet_film_um"]), abs=float(row["tolerance_um"]))


def test_the_worked_example_of_a_thinned_paint():
    """VS 50, thinned 10 %, 60 µm, 30 % lost: 45.45 %, 7.57 and 5.299 m²/L [SPREADING-RATE-WORKED], which rounds."""
    thinned = film.thinned_solids(percent(50), percent(10))
    assert thinned.magnitude == pytest.approx(45.45, abs=0.005)
    rate = film.spreading_rate(thinned, microns(60))
    assert rate.magnitude == pytest.approx(7.57, abs=0.01)
    assert film.practical_spreading_rate(rate, percent(30)).magnitude == pytest.approx(5.299, abs=0.005)


@pytest.mark.parametrize("row", rows("paint_quantity"), ids=lambda row: f"{row['paint']} ×{row['coats']}")
def test_litres_agree_with_the_worked_examples(row):
    litres = film.paint_for_area(
        square_metres(float(row["area_m2"])),
        microns(float(row["dry_film_um"])),
        percent(float(row["volume_solids_percent"])),
        percent(float(row["loss_percent"])),
        coats=int(row["coats"]),
    )
    assert litres.likely.magnitude == pytest.approx(float(row["litres"]), abs=0.0005)
    assert litres.low == litres.likely == litres.high


@pytest.mark.parametrize(("share", "dry", "wet"), [(100 / 3, 20, 36), (50, 30, 55), (200 / 3, 40, 73), (100, 60, 109)])
def test_dead_film_of_a_60_micron_profile(share, dry, wet):
    """⅓, ½, ⅔ and all of 60 µm: 20/30/40/60 mL dry, at 55 % solids 36/55/73/109 mL wet per m². Worked example."""
    dead = film.dead_film(microns(60), percent(share))
    assert dead.magnitude == pytest.approx(dry)
    volume = film.paint_volume(square_metres(1), dead, percent(55), percent(0))
    assert volume.to("mL").magnitude == pytest.approx(wet, abs=0.5)


@pytest.mark.parametrize("row", rows("dead_volume"), ids=lambda row: row["profile_um"])
def test_manuals_say_two_thirds_of_the_profile(row):
    dead = film.dead_film(microns(float(row["profile_um"])), percent(200 / 3))
    assert (dead * square_metres(1)).to("cm**3").magnitude == pytest.approx(float(row["dead_volume_cm3_per_m2"]))


@pytest.mark.parametrize("row", rows("profile_loss"), ids=lambda row: row["profile_to_um"])
def test_the_published_profile_loss_lies_in_our_range(row):
    middle = (float(row["profile_from_um"]) + float(row["profile_to_um"])) / 2
    dead = film.dead_film_range(microns(middle))
    assert dead.low.magnitude <= float(row["lost_film_um"]) <= dead.high.magnitude


@pytest.mark.parametrize("row", rows("transfer_efficiency"), ids=lambda row: row["method"])
def test_published_efficiencies_meet_our_range_of_loss(row):
    """The likely loss is one that some source reports or job figures better it; the high end is no rosier."""
    loss = film.loss_of(row["method"])
    published_low, published_high = 100 - float(row["to_percent"]), 100 - float(row["from_percent"])
    assert loss.low.magnitude <= published_low
    assert loss.high.magnitude >= min(published_high, 70)  # 80 % lost: only of slender frames
    assert loss.low.magnitude <= loss.likely.magnitude <= published_high


def test_usual_losses_are_those_of_the_trade():
    """Brush 10, spoked 15, airless 35, air-assisted 30, HVLP 40, gun 55 and 45 %, +10 outdoors: usual defaults."""
    likely = {method: film.loss_of(method).likely.magnitude for method in film.METHODS}
    assert likely == {
        "brush": 10,
        "roller": 10,
        "airless": 35,
        "air-assisted airless": 30,
        "HVLP": 40,
        "conventional gun on frames": 55,
        "conventional gun on panels": 45,
    }
    assert film.loss_of("brush", spoked=True).likely == percent(15)
    assert film.loss_of("HVLP", outdoors=True).likely == percent(50)


def test_wind_takes_nothing_from_a_brush():
    assert film.loss_of("brush", outdoors=True) == film.loss_of("brush")


@pytest.mark.parametrize("method", film.METHODS)
def test_every_method_has_a_loss_that_leaves_some_paint(method):
    worst = film.loss_of(method, outdoors=True, spoked=True)
    assert worst.low <= worst.likely <= worst.high <= percent(film.MOST_LOSS)
    assert film.METHODS[method].source in SOURCES


def test_what_stays_in_tin_and_gun():
    """5 % of the tin by brush, 0.1 to 0.3 L in gun and pot each colour. Common practice, no source."""
    brush = film.left_behind("brush", Quantity(3, "L"))
    gun = film.left_behind("airless", Quantity(3, "L"))
    assert brush.likely.magnitude == pytest.approx(0.15)
    assert (gun.low.magnitude, gun.high.magnitude) == (0.1, 0.3)


@given(dry_films, solids, thinnings)
def test_dry_to_wet_to_dry_returns(dry, volume_solids, thinning):
    wet = film.wet_film_from_dry_film(microns(dry), percent(volume_solids), percent(thinning))
    back = film.dry_film_from_wet_film(wet, percent(volume_solids), percent(thinning))
    assert back.magnitude == pytest.approx(dry)


@given(dry_films, solids, thinnings, thinnings)
def test_more_thinning_is_never_a_thinner_wet_film(dry, volume_solids, some, more):
    some, more = sorted((some, more))
    wet, wetter = (
        film.wet_film_from_dry_film(microns(dry), percent(volume_solids), percent(share)) for share in (some, more)
    )
    assert wetter >= wet


@given(dry_films, solids, thinnings)
def test_a_litre_in_the_pot_covers_its_wet_film(dry, volume_solids, thinning):
    """Spreading rate of the thinned paint × wet film is the litre itself: 1000 m²·µm."""
    rate = film.spreading_rate(film.thinned_solids(percent(volume_solids), percent(thinning)), microns(dry))
    wet = film.wet_film_from_dry_film(microns(dry), percent(volume_solids), percent(thinning))
    assert (rate * wet).to("").magnitude == pytest.approx(1)


@given(areas, dry_films, solids, losses)
def test_paint_divided_by_area_is_the_practical_rate(area, dry, volume_solids, loss):
    paint = film.paint_volume(square_metres(area), microns(dry), percent(volume_solids), percent(loss))
    rate = film.practical_spreading_rate(film.spreading_rate(percent(volume_solids), microns(dry)), percent(loss))
    assert (square_metres(area) / paint).to("m**2/L").magnitude == pytest.approx(rate.magnitude)


@given(areas, dry_films, solids, losses, st.floats(0, 5), st.integers(1, 5))
def test_more_loss_more_coats_and_a_deeper_profile_never_need_less(area, dry, volume_solids, loss, more, coats):
    def likely(**changed):
        asked = {"loss": percent(loss), "coats": coats, "dead_film": microns(10)} | changed
        return film.paint_for_area(square_metres(area), microns(dry), percent(volume_solids), **asked).likely

    assert likely(loss=percent(loss + more)) >= likely()
    assert likely(coats=coats + 1) > likely()
    assert likely(dead_film=microns(10 + more)) >= likely()


@given(areas, st.sampled_from(sorted(film.METHODS)), st.booleans(), st.booleans())
def test_litres_hold_their_range(area, method, outdoors, spoked):
    around = Range(square_metres(area * 0.9), square_metres(area), square_metres(area * 1.2))
    litres = film.paint_for_area(
        around,
        microns(40),
        percent(45),
        film.loss_of(method, outdoors=outdoors, spoked=spoked),
        dead_film=film.dead_film_range(microns(60)),
    )
    assert litres.low < litres.likely < litres.high


def test_dead_film_is_paid_once():
    """4.2 m², 55 % solids, two coats of 50 µm on a 60 µm profile, nothing lost: A·(2·50 + 30)/550, by hand."""
    litres = film.paint_for_area(
        square_metres(4.2), microns(50), percent(55), percent(0), coats=2, dead_film=film.dead_film(microns(60))
    )
    assert litres.likely.magnitude == pytest.approx(4.2 * 130 / 550)


def test_us_units_need_the_same_paint():
    metric = film.paint_for_area(square_metres(4.2), microns(50.8), percent(45), percent(10)).likely
    area, dry = square_metres(4.2).to("ft**2"), Quantity(2, "mil")
    assert film.paint_for_area(area, dry, percent(45), percent(10)).likely.magnitude == pytest.approx(metric.magnitude)


def test_what_is_not_known_stays_unknown():
    assert isnan(film.wet_film_from_dry_film(microns(float("nan")), percent(45)).magnitude)


def test_every_number_opens_its_working():
    workings = [
        film.wet_film_working(microns(40), percent(45), percent(10)),
        film.dry_film_working(microns(100), percent(45)),
        film.spreading_rate_working(percent(45), microns(40)),
        film.practical_spreading_rate_working(Quantity(11.25, "m**2/L"), percent(20)),
        film.dead_film_working(microns(60)),
        film.paint_working(square_metres(4.2), microns(40), percent(45), film.loss_of("brush"), coats=2),
    ]
    results = [working.result for working in workings]
    assert results[:5] == ["97.78 µm", "45 µm", "11.25 m²/L", "9 m²/L", "30 µm"]
    assert results[5].startswith("0.8296 L (0.786")
    assert all(working.source in SOURCES and working.inputs for working in workings)


def test_readings_pass_by_their_mean_their_thinnest_and_the_share_below_what_is_asked():
    """ISO 19840 (from memory): mean at what is asked or more, none below 80 % of it, at most a fifth between."""
    cases = {
        (100.0,) * 10: True,
        (110.0,) * 8 + (80.0, 95.0): True,  # two of ten below, at the limits
        (130.0,) * 7 + (90.0,) * 3: False,  # three of ten below
        (130.0,) * 9 + (79.9,): False,  # one below the floor
        (99.9,) * 5 + (100.0,) * 5: False,  # the mean
    }
    for readings, passes in cases.items():
        survey = film.FilmSurvey(readings, 100.0)
        assert survey.accepted is passes
        assert survey.mean == pytest.approx(np.mean(readings))
        assert survey.spread == pytest.approx(np.std(readings, ddof=1))
    stricter = film.Acceptance(floor=0.9, thin_share=0.1)
    assert not film.FilmSurvey((110.0,) * 8 + (80.0, 95.0), 100.0, stricter).accepted
    # the handbook's worked example: 78 µm on a medium profile is 53 µm over the peaks
    assert 78 - film.GAUGE_CORRECTIONS["medium"] == 53


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: film.FilmSurvey((), 50.0), "readings"),
        (lambda: film.FilmSurvey((6000.0,), 50.0), "gauge reading"),
        (lambda: film.wet_film_from_dry_film(microns(40), percent(0)), "volume solids"),
        (lambda: film.spreading_rate(percent(101), microns(40)), "volume solids"),
        (lambda: film.thinned_solids(percent(50), percent(-1)), "thinning"),
        (lambda: film.wet_film_from_dry_film(microns(0), percent(45)), "dry film"),
        (lambda: film.dry_film_from_wet_film(microns(-5), percent(45)), "wet film"),
        (lambda: film.practical_spreading_rate(Quantity(10, "m**2/L"), percent(100)), "loss"),
        (lambda: film.dead_film(microns(-1)), "profile"),
        (lambda: film.dead_film(microns(60), percent(20)), "share of the profile"),
        (lambda: film.paint_for_area(square_metres(0), microns(40), percent(45), percent(10)), "area"),
        (lambda: film.paint_for_area(square_metres(1), microns(40), percent(45), percent(10), coats=0), "coats"),
    ],
)
def test_an_impossible_value_is_named(ask, named):
    with pytest.raises(OutsideValidity) as refusal:
        ask()
    assert refusal.value.name == named
