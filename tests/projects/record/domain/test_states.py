"""What is kept beside a piece is what its log says, whatever happens to log, part, system or clock."""

import uuid
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from finishing.coatings.actions.systems import LayerWanted, save_system
from finishing.coatings.models import Layer
from finishing.science.units import Quantity
from projects.apps import keep_states_anew
from projects.record.actions.log import log_step, void_step
from projects.record.actions.pieces import make_pieces
from projects.record.actions.projects import change_project
from projects.record.domain.states import derived, read_states, stages_of_projects
from projects.record.models import KeptState, Piece, Step
from tests import factories

NINE = datetime(2026, 5, 12, 9, tzinfo=UTC)
Kind, BackTo = Step.Kind, Step.BackTo


@pytest.fixture
def system(workshop):
    system = factories.SystemFactory(workshop=workshop)
    primer = factories.CoatingFactory(workshop=workshop)
    enamel = factories.CoatingFactory(workshop=workshop, name="green enamel", is_primer=False)
    for position, values in enumerate(
        ({"kind": "wipe", "coating": None}, {"coating": primer}, {"coating": enamel}, {"coating": enamel}), start=1
    ):
        factories.LayerFactory(system=system, position=position, **values)
    return system


@pytest.fixture
def rack(workshop, system):
    part = factories.PartFactory(design__workshop=workshop, system=system, lettering="HOLLOWFIELD")
    project, place = factories.ProjectFactory(design=part.design), factories.PlaceFactory(workshop=workshop)
    values = {"workshop": workshop, "part": part, "project": project, "place": place}
    return make_pieces(Piece(mark=f"F-{n}", **values) for n in range(4))


@pytest.fixture
def log(owner, rack):
    """Log an entry for a rack, some hours after nine."""

    def entry(kind, hours, pieces=None, layer=None, **facts):
        those = rack if pieces is None else pieces
        own = {piece.pk: {"layer": layer, "coating": layer and layer.coating} for piece in those}
        when = NINE + timedelta(hours=hours)
        return log_step(
            by=owner, key=uuid.uuid4(), kind=kind, happened_at=when, pieces=those, of_each=own if layer else {}, **facts
        )

    return entry


def assert_kept_as_derived():
    """Every kept row is what its log gives now, and what lists read of it is what the log says."""
    logs = {piece.pk: piece for piece in Piece.objects.with_log()}
    assert {row.piece_id: row.facts for row in KeptState.objects.all()} == {
        pk: derived(piece).facts for pk, piece in logs.items()
    }
    for piece in read_states(Piece.objects.all()):
        assert piece.state == logs[piece.pk].state
        for hours in (-200, -1, 0.5, 20, 200):
            moment = NINE + timedelta(hours=hours)
            assert piece.state_at(moment) == logs[piece.pk].state_at(moment)
    counted = Counter((piece.project_id, piece.state.stage) for piece in logs.values() if not piece.project.closed)
    for workshop in {piece.workshop_id: piece.workshop for piece in logs.values()}.values():
        for project, stages in stages_of_projects(workshop).items():
            assert all(counted[project, stage] == many for stage, many in stages.items())
            assert sum(stages.values()) == sum(many for (pk, _), many in counted.items() if pk == project)


def test_a_piece_is_kept_from_its_first_moment(rack):
    factories.PieceFactory(part__stays_bare=True)
    assert_kept_as_derived()
    assert Counter(KeptState.objects.values_list("stage", flat=True)) == {"raw": 4, "stays bare": 1}


def test_every_entry_is_kept_with_what_it_means(owner, workshop, system, rack, log):
    _, primer, first, second = system.layers.all()
    shop = factories.PlaceFactory(workshop=workshop, name="shop", kind="shop")
    happens = [
        lambda: log(Kind.BLASTED, 0, wet_work=True),
        lambda: log(Kind.DRIED, 1, flash_rust="light", inhibitor_claim=Quantity(48, "hour")),
        lambda: log(Kind.MOVED, 2, rack[:2], place=shop, surface_temperature=Quantity(14.5, "degC")),
        lambda: log(Kind.LOOKED, 2.5),
        lambda: log(Kind.WETTED, 2.6, rack[3:]),
        lambda: log(Kind.COATED, 3, layer=primer, dry_film=Quantity(3, "mil")),
        lambda: log(Kind.PREPARED, 10, rack[:1], layer=system.layers.first()),
        lambda: log(Kind.COATED, 12, rack[:3], layer=first),
        lambda: log(Kind.COATED, 24, rack[:3], layer=second),
        lambda: log(Kind.LETTERED, 40, rack[:1]),
        lambda: log(Kind.LETTERS_SKIPPED, 40, rack[1:2], reason="worn"),
        lambda: log(Kind.WRINKLED, 41, rack[2:3], back_to=BackTo.PRIMED),
        lambda: log(Kind.DAMAGED, 42, rack[1:2], back_to=BackTo.NOWHERE, note="a chip"),
        lambda: log(Kind.PRESERVED, 43, note="oil"),
        lambda: log(Kind.BLOOM, 44, rack[3:]),
        lambda: log(Kind.NOTED, 45, note="look again"),
    ]
    for happen in happens:
        happen()
        assert_kept_as_derived()
    stages = [piece.state.stage for piece in read_states(Piece.objects.order_by("mark"))]
    assert stages == ["lettered", "coated", "primed", "raw"]


def test_voided_and_late_entries_are_kept_with_what_they_mean(owner, system, rack, log):
    primer = system.layers.all()[1]
    log(Kind.BLASTED, 0)
    coats = log(Kind.COATED, 5, layer=primer)
    void_step(by=owner, step=coats[0], reason="wrong piece", now=NINE + timedelta(hours=6))
    assert_kept_as_derived()
    log(Kind.CAME_CLEAN, -1, rack[:2], reason="a new casting")
    log(Kind.MOVED, 7.5, rack[2:], place=rack[0].place)  # by a phone whose clock is a little ahead
    assert_kept_as_derived()
    assert [piece.state.stage for piece in read_states(Piece.objects.order_by("mark"))] == ["blasted", *["primed"] * 3]


def test_a_form_sent_again_keeps_the_same(owner, rack):
    key = uuid.uuid4()
    for _ in range(2):
        log_step(by=owner, key=key, kind=Kind.BLASTED, happened_at=NINE, pieces=rack, of_each={})
        assert_kept_as_derived()
    assert Step.objects.count() == len(rack)


def test_another_system_other_letters_and_another_primer_are_kept_at_once(workshop, system, rack, log):
    wipe, primer, first, second = system.layers.all()
    log(Kind.BLASTED, 0)
    log(Kind.COATED, 3, layer=primer)
    log(Kind.COATED, 12, layer=first)
    save_system(system, [LayerWanted(layer, before=layer.pk) for layer in (wipe, primer, first)])
    assert_kept_as_derived()
    assert {piece.state.stage for piece in read_states(Piece.objects.all())} == {"coated"}
    first.coating.is_primer = True
    first.coating.save()
    assert_kept_as_derived()
    part = rack[0].part
    part.lettering = ""
    part.save()
    assert_kept_as_derived()
    part.system = factories.LayerFactory(system__workshop=workshop, coating=first.coating).system
    part.save()
    assert_kept_as_derived()  # the layers that are on belong to a system that is no longer the part's
    assert len(read_states(Piece.objects.all())[0].state.coats) == 2


def test_a_state_that_rests_on_what_has_changed_unseen_is_not_believed(system, rack, log):
    log(Kind.BLASTED, 0)
    log(Kind.COATED, 3, layer=system.layers.all()[1])
    Layer.objects.filter(system=system, position__gt=2).delete()  # no signal, no action of ours
    assert {row.stage for row in KeptState.objects.all()} == {"primed"}
    assert {piece.state.stage for piece in read_states(Piece.objects.all())} == {"coated"}
    assert stages_of_projects(rack[0].workshop) == {rack[0].project_id: {"coated": 4}}
    keep_states_anew("default")
    assert_kept_as_derived()


def test_what_is_lost_is_read_from_the_log_and_rebuilt(rack, log):
    log(Kind.BLASTED, 0)
    KeptState.objects.all().delete()
    assert {piece.state.stage for piece in read_states(Piece.objects.all())} == {"blasted"}
    call_command("rebuild_states")
    assert_kept_as_derived()


def test_a_closed_project_is_counted_no_more(rack, log):
    log(Kind.BLASTED, 0)
    project = rack[0].project
    project.closed = True
    change_project(project)
    assert_kept_as_derived()
    assert stages_of_projects(rack[0].workshop) == {}


@pytest.mark.parametrize("many", [3, 9])
def test_many_states_are_read_with_as_many_queries_as_few_and_without_a_log(many, rack, log):
    piece = rack[0]
    values = {name: getattr(piece, name) for name in ("workshop", "part", "project", "place")}
    more = make_pieces(Piece(mark=f"M-{n}", **values) for n in range(many))
    for n, other in enumerate(more):
        log(Kind.BLASTED, n, [other])
    with CaptureQueriesContext(connection) as asked:
        assert len(read_states(Piece.objects.all())) == many + 4
    assert len(asked) == 8
    assert not any("projects_step" in query["sql"] for query in asked)
