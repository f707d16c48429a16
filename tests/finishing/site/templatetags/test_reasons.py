from finishing.science.windows import Reason
from finishing.site.templatetags.reasons import REASONS, legend, mark, reasons, reasons_among


def test_each_reason_has_words_and_a_mark_of_its_own():
    assert set(REASONS) == set(Reason)
    assert len({words for words, _ in REASONS.values()}) == len({name for _, name in REASONS.values()}) == len(Reason)


def test_all_reasons_are_told_the_gravest_first():
    flags = Reason.OUTSIDE_WORKING_HOURS | Reason.RAIN | Reason.RUST_BUDGET_SPENT
    assert reasons(flags) == [
        "bare for too long: blast again",
        "rain before the work may be left",
        "outside working hours",
    ]
    assert mark(flags) == "rust"
    assert legend(flags)[-1] == ("dusk", "outside working hours")


def test_what_is_not_known_is_told_before_what_is():
    assert reasons_among(Reason.RAIN | Reason.NOT_KNOWN) == [Reason.NOT_KNOWN, Reason.RAIN]


def test_a_workable_hour_has_no_mark():
    assert (reasons(0), mark(0), legend(0)) == ([], "", [])
