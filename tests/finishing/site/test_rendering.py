from django import forms


class Boxes(forms.Form):
    name = forms.CharField()
    note = forms.CharField(required=False)
    key = forms.CharField(widget=forms.HiddenInput)


def test_a_box_that_may_stay_empty_says_so_and_no_other():
    form = Boxes()
    assert "may stay empty" in form["note"].as_field_group()
    assert "may stay empty" not in form["name"].as_field_group()


def test_a_quiet_form_says_it_of_no_box_or_of_all_but_those_it_names():
    class Quiet(Boxes):
        quiet = True

    class QuietAboutTheNote(Boxes):
        quiet = ("note",)
        other = forms.CharField(required=False)

    assert "may stay empty" not in str(Quiet())
    assert str(QuietAboutTheNote()).count("may stay empty") == 1


def test_a_box_that_is_wrong_is_marked_and_says_what_describes_it():
    box = Boxes({"name": "", "key": "k"})["name"].as_field_group()
    assert '<div class="field wrong">' in box
    assert 'aria-describedby="id_name_error"' in box
    assert 'id="id_name_error"' in box


def test_a_form_stands_under_its_headings_where_it_has_them():
    class Headed(Boxes):
        @property
        def sections(self):
            return [("Who", [self["name"]]), ("What", [self["note"]])]

    assert str(Headed()).count("<legend>") == 2
    assert str(Headed()).count('type="hidden"') == 1
    assert "<legend>" not in str(Boxes())


def test_what_is_wrong_with_a_whole_form_and_with_a_hidden_box_stands_above_it():
    form = Boxes({"name": "Frame"})
    form.add_error(None, "Not today.")
    top = str(form).partition('<div class="fields">')[0]
    assert "Not today." in top
    assert "(Hidden field key) This field is required." in top
