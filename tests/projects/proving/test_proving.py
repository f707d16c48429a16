"""A piece has one place; a change keeps its cost."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from finishing.science.units import Quantity
from projects.proving.actions import fit, open_revision
from projects.proving.domain.assembly import seats_of, sits_in
from projects.record.models import Expense, Fitting, Revision
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

LATER = datetime(2026, 5, 12, 12, tzinfo=UTC)


@pytest.fixture
def piece(workshop):
    return factories.PieceFactory(part__design__workshop=workshop)


@pytest.fixture
def machines(piece):
    return [factories.MachineFactory(project=piece.project, number=number) for number in "78"]


def test_a_piece_is_taken_from_where_it_sat(piece, machines, owner):
    here, there = machines
    fitted = cost_factories.FittingFactory(machine=here, piece=piece)
    moved = Fitting(workshop=piece.workshop, machine=there, part=piece.part, piece=piece, fitted_at=LATER, by=owner)
    fit(moved, out_of=fitted)
    assert [seats_of(machine)[0].piece for machine in machines] == [None, piece]
    assert sits_in([piece]) == {piece.pk: moved}
    piece.refresh_from_db()
    assert piece.machine == there


def test_a_place_that_is_emptied_leaves_the_piece_to_its_machine(piece, machines, owner):
    fit(
        cost_factories.FittingFactory.build(
            workshop=piece.workshop, machine=machines[0], piece=piece, part=piece.part, by=owner
        )
    )
    fit(Fitting(workshop=piece.workshop, machine=machines[0], part=piece.part, fitted_at=LATER, by=owner))
    assert seats_of(machines[0])[0].piece is None
    assert len(seats_of(machines[0])[0].history) == 2
    assert sits_in([piece]) == {}


def test_a_revision_without_a_reason_still_names_what_its_money_was_for(piece):
    revision = Revision(workshop=piece.workshop, part=piece.part, label="A")
    open_revision(revision, day=date(2026, 5, 12), cost=Decimal(5), minutes=Quantity(0, "minute"))
    expense = Expense.objects.get()
    assert (expense.what, expense.spent_on) == (f"{piece.part}: revision A", date(2026, 5, 12))
