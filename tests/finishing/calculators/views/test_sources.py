import pytest
from django.urls import reverse

from finishing.science.cautions import CAUTIONS, DEFERRAL
from finishing.science.sources import SOURCES
from finishing.site.templatetags.sources import source


@pytest.mark.django_db
def test_it_shows_every_work_cited_to_a_stranger(client):
    page = client.get(reverse("sources")).content.decode()
    for work in SOURCES.values():
        assert work.key in page
    assert "blast again" in page


@pytest.mark.django_db
def test_it_shows_every_caution_and_who_decides_to_a_stranger(client):
    page = client.get(reverse("sources")).content.decode()
    for caution in CAUTIONS:
        assert caution.title in page
    assert DEFERRAL in page


def test_a_key_becomes_its_work_with_the_way_to_the_list():
    assert 'href="/sources/#ae1996"' in source("AE1996")
    assert "Alduchov" in source("AE1996")


def test_a_basis_that_is_no_key_is_shown_as_it_is():
    assert source("<our notebook>") == "<our notebook>"
