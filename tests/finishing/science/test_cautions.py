"""Cautions: each has its gist, its sources and who decides; none is told twice."""

import pytest

from finishing.science.blasting import Abrasive, Job, Rig, triggers
from finishing.science.cautions import BY_TRIGGER, CAUTIONS, DEFERRAL, cautions_for
from finishing.science.nozzle import Pressures
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity


@pytest.mark.parametrize("caution", CAUTIONS, ids=BY_TRIGGER)
def test_a_caution_names_its_sources_and_who_decides(caution):
    assert set(caution.sources) <= set(SOURCES)
    assert caution.gist.endswith(".")
    assert caution.closing == DEFERRAL
    assert "not a permit" in DEFERRAL


def test_every_trigger_of_the_work_has_its_caution():
    assert {
        *("blasting", "breathing air", "blast hose and pot", "isocyanate", "solvent", "oily rags", "cellulose dust"),
        *("old paint", "wet stripping", "heavy", "pressure parts and guards", "hot work"),
    } <= set(BY_TRIGGER)


def test_they_come_in_their_own_order_and_once():
    asked = cautions_for(["heavy", "old paint", "blasting", "old paint"])
    assert [caution.trigger for caution in asked] == ["blasting", "old paint", "heavy"]
    assert cautions_for([]) == []


def test_a_trigger_nobody_knows_is_an_error_and_not_silence():
    with pytest.raises(KeyError):
        cautions_for(["blasting", "dragons"])


@pytest.mark.parametrize(
    ("trigger", "words"),
    [
        ("noise", "Hearing protection under the helmet"),  # [HSE-BLASTING-NOISE]
        ("static", "earthed"),  # common practice, no source
        ("beryllium", "slag"),  # common practice, no source
        ("chromate", "Zinc, strontium and lead chromate"),  # common practice, no source
        ("blasting", "silica"),  # cast-on sand is silica too [SILICA-EXPOSURE]
        ("breathing air", "not fit to breathe"),  # [BREATHING-AIR]
        ("blast hose and pot", "Dead-man"),  # [UFC-DEAD-MAN]
        ("isocyanate", "never a filter mask"),  # [ISOCYANATE]
        ("isocyanate", "30 or more"),  # minutes until a room has cleared [ISOCYANATE]
        ("old paint", "leaded until a test"),  # [HSE-LEAD]
        ("solvent", "quarter of the lower explosive limit"),  # [SOLVENT-VAPOUR]
        ("heavy", "no chain on rims"),  # common practice, no source
    ],
)
def test_it_says_what_matters(trigger, words):
    assert words in BY_TRIGGER[trigger].gist


def test_the_work_asks_for_noise_and_static_and_slag_for_beryllium():
    """They were missing from the sheet of a day's blasting; HSE OC 634/8 has the noise."""
    rig = Rig(Quantity(6, "mm"), Pressures(Quantity(5, "bar"), Quantity(0.15, "bar")))
    slag = Abrasive("slag", "mineral slag", Quantity(1500, "kg/m**3"), Quantity(1, "percent"))
    asked = triggers(Job(Quantity(1, "m**2"), slag, rig, state="thick old paint"))
    assert {"noise", "static", "beryllium", "chromate"} <= set(asked)
