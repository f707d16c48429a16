"""Stage and next step by happening time. The layers and entries are plain values: no database is asked."""

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace as Value

import pytest

from projects.record.models.stages import Next, Stage, Step, read_log

Kind, BackTo = Step.Kind, Step.BackTo
NOON = datetime(2025, 5, 1, 12, tzinfo=UTC)


def layer(position, kind="coat", side="all", is_primer=False):
    coating = Value(is_primer=is_primer) if kind == "coat" else None
    return Value(position=position, kind=kind, side=side, coating=coating, is_coat=kind == "coat")


def entry(kind, hour, **facts):
    """An entry that happened so many hours after noon, entered at once unless `entered` says otherwise."""
    plain = {"id": f"{kind} {hour}", "layer": None, "voids_id": None, "back_to": "", "note": "", "reason": ""}
    plain |= {"surface_temperature": None, "wet_work": False, "place": None, "coating": None, "dry_film": None}
    entered = facts.pop("entered", hour)
    times = {"happened_at": NOON + timedelta(hours=hour), "entered_at": NOON + timedelta(hours=entered)}
    step = Value(kind=kind, **{**plain, **times, **facts})
    step.get_kind_display = lambda: Kind(kind).label
    return step


WIPE, PRIMER, ENAMEL = layer(1, "wipe"), layer(2, is_primer=True), layer(3)
SYSTEM = [WIPE, PRIMER, ENAMEL]


def read(*entries, layers=SYSTEM, letters=False):
    return read_log(entries, layers, letters)


def test_a_piece_without_entries_is_to_be_blasted():
    assert (read().stage, read().next) == (Stage.RAW, Next.BLAST)


def test_it_goes_from_blasted_to_primed_to_coated_to_lettered():
    log = [
        entry(Kind.BLASTED, 0),
        entry(Kind.COATED, 1, layer=PRIMER),
        entry(Kind.COATED, 20, layer=ENAMEL),
        entry(Kind.LETTERED, 60),
    ]
    stages = [read(*log[:n], letters=True).stage for n in (1, 2, 3, 4)]
    assert stages == [Stage.BLASTED, Stage.PRIMED, Stage.COATED, Stage.LETTERED]
    assert [read(*log[:n], letters=True).next for n in (1, 2, 3, 4)] == [
        Next.PREPARE,
        Next.COAT,
        Next.LETTER,
        Next.NOTHING,
    ]


def test_the_first_coat_of_a_self_priming_enamel_passes_primed():
    two = [layer(1), layer(2)]
    assert read(entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=two[0]), layers=two).stage == Stage.PRIMED


def test_a_system_of_one_coat_is_coated_at_once():
    one = [layer(1)]
    assert read(entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=one[0]), layers=one).stage == Stage.COATED


def test_it_reads_by_happening_time_not_by_entry():
    late = entry(Kind.BLASTED, 0, entered=30)
    coat = entry(Kind.COATED, 1, layer=PRIMER, entered=2)
    assert read(coat, late).stage == Stage.PRIMED


def test_a_voided_entry_is_passed_over_and_stays_voided():
    coat = entry(Kind.COATED, 1, layer=PRIMER)
    void = entry(Kind.VOIDED, 2, voids_id=coat.id)
    state = read(entry(Kind.BLASTED, 0), coat, void)
    assert state.stage == Stage.BLASTED
    assert state.is_bare


def test_a_coat_logged_without_its_wipe_passes_the_wipe():
    state = read(entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=PRIMER))
    assert state.next_layer is ENAMEL


def test_preparations_stand_before_the_next_coat():
    state = read(entry(Kind.BLASTED, 0))
    assert state.preparations == (WIPE,)
    assert state.next_coat is PRIMER


def test_iron_stays_bare_until_the_second_side_has_paint():
    sides = [layer(1, side="first"), layer(2, side="second")]
    first = [entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=sides[0])]
    assert read(*first, layers=sides).is_bare
    assert not read(*first, entry(Kind.COATED, 3, layer=sides[1]), layers=sides).is_bare


def test_bloom_sends_it_back_to_be_blasted_and_blasting_begins_anew():
    bloomed = [entry(Kind.BLASTED, 0), entry(Kind.BLOOM, 5)]
    state = read(*bloomed)
    assert (state.stage, state.next, state.blast_again) == (Stage.RAW, Next.BLAST, "rust bloom seen")
    again = read(*bloomed, entry(Kind.BLASTED, 9))
    assert again.bare_since == NOON + timedelta(hours=9)
    assert not again.blast_again


@pytest.mark.parametrize(
    ("back_to", "stage", "following"),
    [
        (BackTo.LAST_COAT, Stage.PRIMED, ENAMEL),
        (BackTo.PRIMED, Stage.PRIMED, ENAMEL),
        (BackTo.BLAST, Stage.RAW, None),
        (BackTo.NOWHERE, Stage.COATED, None),
    ],
)
def test_a_spoilt_coat_goes_back_as_far_as_the_entry_says(back_to, stage, following):
    log = [entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=PRIMER), entry(Kind.COATED, 20, layer=ENAMEL)]
    state = read(*log, entry(Kind.WRINKLED, 30, back_to=back_to))
    assert (state.stage, state.next_layer) == (stage, following)


def test_taking_off_the_only_coat_means_blasting_again():
    log = [entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=PRIMER)]
    state = read(*log, entry(Kind.WRINKLED, 2, back_to=BackTo.LAST_COAT))
    assert (state.stage, state.blast_again) == (Stage.RAW, "no sound coat left")


def test_touching_up_changes_no_stage():
    log = [entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=PRIMER)]
    damaged = entry(Kind.DAMAGED, 2, back_to=BackTo.NOWHERE, note="chip at the lug")
    assert read(*log, damaged).touch_up == "chip at the lug"
    mended = read(*log, damaged, entry(Kind.TOUCHED_UP, 3))
    assert (mended.stage, mended.touch_up) == (Stage.PRIMED, "")


def test_letters_may_be_skipped_with_a_reason():
    one = [layer(1)]
    log = [entry(Kind.BLASTED, 0), entry(Kind.COATED, 1, layer=one[0])]
    state = read(*log, entry(Kind.LETTERS_SKIPPED, 2, reason="left neutral"), layers=one, letters=True)
    assert (state.stage, state.next, state.letters_skipped) == (Stage.COATED, Next.NOTHING, "left neutral")


def test_preserved_faces_are_minded_until_cleaned_off():
    kept = read(entry(Kind.PRESERVED, 0, note="oil"))
    assert kept.preserved_since == NOON
    assert read(entry(Kind.PRESERVED, 0), entry(Kind.CLEANED_OFF, 1)).preserved_since is None


def test_bare_iron_that_got_wet_is_told_until_it_is_blasted_again():
    log = [entry(Kind.BLASTED, 0), entry(Kind.WETTED, 1)]
    assert read(*log).wet_at == NOON + timedelta(hours=1)
    assert read(*log, entry(Kind.BLASTED, 4)).wet_at is None


def test_a_piece_without_system_asks_for_one():
    assert read(entry(Kind.BLASTED, 0), layers=[]).next == Next.NO_SYSTEM


def test_what_stays_bare_is_finished_once_it_is_there_whatever_was_logged():
    """It was to be blasted, whatever it was."""
    for log in ([], [entry(Kind.RECEIVED, 0)], [entry(Kind.BLASTED, 0)], [entry(Kind.BLOOM, 0)]):
        state = read_log(log, [], False, stays_bare=True)
        assert (state.stage, state.next, state.finished) == (Stage.STAYS_BARE, Next.NOTHING, True)
        assert not state.is_bare


def test_stays_bare_is_among_the_stages_only_where_some_piece_does():
    assert Stage.STAYS_BARE not in Stage.on_the_way({Stage.RAW})
    assert Stage.on_the_way({Stage.RAW, Stage.STAYS_BARE})[-1] == Stage.STAYS_BARE
