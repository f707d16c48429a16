"""The paint list as CSV, read back as a spreadsheet reads it."""

import csv
from io import StringIO

import pytest

from projects.record.models import Piece
from projects.work.domain.paint import paint_list
from projects.work.exports import paint_csv
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(workshop, system, roof):
    part = factories.PartFactory(design__workshop=workshop, system=system, area=2, name="=HYPERLINK(1)")
    return factories.PieceFactory(part=part, place=roof, mark="+49")


def rows(measures="metric"):
    paints = paint_list(Piece.objects.with_log(), all_layers=True, wanted="high")
    data = paint_csv(paints, measures, "GBP")
    assert data.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(StringIO(data.decode("utf-8-sig"))))


def test_names_from_the_workshop_are_made_harmless(piece):
    coat = rows()[0]
    assert (coat["part"], coat["marks"]) == ("'=HYPERLINK(1)", "'+49")


def test_it_has_a_row_for_each_coat_and_a_sum_for_each_coating(piece):
    told = [(row["row"], row["coating"]) for row in rows()]
    assert told == [
        ("coat", "green enamel"), ("coat", "green enamel"), ("coating", "green enamel"),
        ("coat", "grey primer"), ("coating", "grey primer"),
    ]  # fmt: skip


def test_it_speaks_the_workshops_units(piece):
    metric, us = rows()[0], rows("us")[0]
    assert float(us["likely, gal"]) == pytest.approx(float(metric["likely, L"]) / 3.785412, abs=0.001)
    assert float(us["area each, ft²"]) == pytest.approx(2 * 10.7639, abs=0.01)


def test_what_could_not_be_reckoned_is_told(piece):
    part = factories.PartFactory(design=piece.part.design, area=None, name="Lever")
    factories.PieceFactory(part=part, project=piece.project, place=piece.place, mark="L-01")
    left_out = rows()[-1]
    assert (left_out["row"], left_out["marks"], left_out["note"]) == ("not reckoned", "L-01", "no painted area")
