"""Words explained where they stand, and a page of help for each section."""

import re

import pytest
from django.template import engines
from django.urls import reverse

from finishing.site.templatetags.terms import TERMS
from projects.site.templatetags.sections import SECTIONS, section_of


@pytest.mark.django_db
@pytest.mark.parametrize("name", [name for name, _, _ in SECTIONS])
def test_each_section_has_a_page_of_help_that_names_the_others(client, name):
    page = client.get(reverse("help", args=[name])).content.decode()
    assert all(reverse("help", args=[other]) in page for other, _, _ in SECTIONS)
    assert len(re.sub("<[^>]+>", " ", page).split()) > 80


@pytest.mark.django_db
def test_there_is_no_other_help(client):
    assert client.get(reverse("help", args=["no-such"])).status_code == 404


@pytest.mark.parametrize(
    ("path", "section"),
    [("/", "day-sheet"), ("/pieces/1/", "projects"), ("/visits/", "projects"), ("/help/weather/", "weather"),
     ("/sign-in/", "day-sheet"), ("/systems/", "coatings"), ("", "day-sheet")],
)  # fmt: skip
def test_help_is_of_the_section_that_a_page_belongs_to(path, section):
    assert section_of(path) == section


@pytest.mark.parametrize("word", TERMS)
def test_a_word_opens_its_meaning_and_each_has_an_id_of_its_own(word):
    shown = engines["django"].from_string(f'{{% term "{word}" %}}{{% term "{word}" %}}').render()
    opens, ids = re.findall('popovertarget="([^"]+)"', shown), re.findall(' id="([^"]+)"', shown)
    assert opens == ids
    assert len({*ids}) == 2
    assert "<p>" not in shown  # it may stand within a sentence
