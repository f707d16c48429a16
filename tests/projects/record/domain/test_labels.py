"""How the next revision is labelled."""

import pytest

from projects.record.domain.labels import next_label


@pytest.mark.parametrize(
    ("label", "after"),
    [
        (None, "A"), ("A", "B"), ("Y", "Z"), ("Z", "AA"), ("AZ", "BA"), ("ZZ", "AAA"), ("a", "b"), ("z", "aa"),
        ("1", "2"), ("9", "10"), ("09", "10"), ("A9", "A10"), ("1A", "1B"), ("P-3", "P-4"), ("2.1", "2.2"),
        ("thin web", ""), ("", ""), ("Ä", ""), ("²", ""), ("9" * 20, ""),
    ],
)  # fmt: skip
def test_it_counts_on_as_drawings_are_labelled(label, after):
    assert next_label(label) == after


def test_a_label_that_is_taken_is_passed_over():
    assert next_label("A", {"B", "C"}) == "D"
