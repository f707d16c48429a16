"""What may go over what: every pair answers, and no unknown coat is ever a yes."""

import pytest

from finishing.science.overcoating import FAMILIES, NEW_TYPES, OLD_OR_UNKNOWN, OLD_TYPES, verdict
from finishing.science.sources import SOURCES

from .published import rows

WORDS = {"yes", "abrade first", "test patch", "no"}


@pytest.mark.parametrize("row", rows("overcoating"), ids=lambda row: f"{row['new']} over {row['old']}, {row['aged']}")
def test_verdicts_are_those_published(row):
    assert verdict(row["new"], row["old"], aged=row["aged"] == "yes").word == row["verdict"]


@pytest.mark.parametrize("aged", [False, True])
@pytest.mark.parametrize("old", OLD_TYPES)
@pytest.mark.parametrize("new", NEW_TYPES)
def test_every_pair_answers_with_a_word_a_reason_and_a_source(new, old, aged):
    answer = verdict(new, old, aged)
    assert answer.word in WORDS
    assert answer.reason.endswith(".")
    assert answer.source in SOURCES


@pytest.mark.parametrize("aged", [False, True])
@pytest.mark.parametrize("old", [OLD_OR_UNKNOWN, "", "something blue from the shed"])
@pytest.mark.parametrize("new", NEW_TYPES)
def test_old_or_unknown_paint_is_never_a_yes(new, old, aged):
    assert verdict(new, old, aged).word == "test patch"


@pytest.mark.parametrize("kind", NEW_TYPES)
def test_a_second_coat_of_the_same_paint_may_go_on(kind):
    """In its recoat window every paint is made to go over itself. Common practice, no source."""
    assert verdict(kind, kind, aged=False).word == "yes"


@pytest.mark.parametrize("old", NEW_TYPES)
@pytest.mark.parametrize("new", NEW_TYPES)
def test_only_what_dissolves_into_itself_needs_no_key_when_aged(new, old):
    redissolve = {("lacquer", "lacquer"), ("rubber", "rubber")}
    if verdict(new, old, aged=True).word == "yes":
        assert (FAMILIES[new], FAMILIES[old]) in redissolve


def test_a_primer_over_a_finish_needs_a_key():
    """Common practice, no source."""
    assert verdict("alkyd primer", "alkyd enamel", aged=False).word == "abrade first"
    assert verdict("alkyd enamel", "alkyd primer", aged=False).word == "yes"


def test_a_new_paint_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="whitewash"):
        verdict("whitewash", "alkyd enamel", aged=False)
