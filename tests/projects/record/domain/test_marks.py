"""Marks proposed for new pieces."""

from projects.record.domain.marks import propose_marks


def test_parts_get_the_shortest_beginning_that_is_free():
    wanted = ["Flywheel", "Frame", "Frame", "Table"]
    assert propose_marks(wanted, {"Flywheel": [], "Frame": [], "Table": []}) == ["F-01", "FR-01", "FR-02", "T-01"]


def test_marks_go_on_as_they_were_begun():
    assert propose_marks(["Frame", "Frame"], {"Frame": ["G7", "G9"]}) == ["G10", "G11"]


def test_a_mark_that_another_part_has_is_passed_over():
    assert propose_marks(["Frame", "Frame"], {"Frame": ["A-01"], "Table": ["A-02"]}) == ["A-03", "A-04"]


def test_names_without_letters_and_names_alike_still_get_marks():
    names = ["—", "Wheel", "Whee", "Whe", "Wh", "W", "WHEEL!"]
    marks = propose_marks(names, {name: [] for name in names})
    assert len(set(marks)) == len(names)


def test_marks_that_follow_no_number_are_left_alone():
    assert propose_marks(["Frame"], {"Frame": ["left", "right"]}) == ["F-01"]
