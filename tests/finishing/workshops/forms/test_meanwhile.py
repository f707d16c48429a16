"""A form that stood open while somebody else changed the facts tells so, shows both, and keeps what was typed."""

import re

import pytest
from django.urls import reverse

from finishing.coatings.models import Coating
from finishing.workshops.models import Place, Workshop
from projects.record.models import Project
from tests import factories
from tests.addresses import NAMES, address

pytestmark = pytest.mark.django_db


def boxes(client, page):
    """What a browser would send back of the form of this page, with nothing typed."""
    form = client.get(page).context["form"]
    rows = getattr(form, "small_tables", tuple)()
    told = list(form) + [box for table in rows for part in (table.management_form, *table) for box in part]
    sent = {box.html_name: box.field.widget.format_value(box.value()) for box in told if box.value() is not None}
    return {name: value for name, value in sent.items() if value not in (None, "", [], "False", [None])}


@pytest.fixture
def project(workshop):
    design = factories.DesignFactory(workshop=workshop)
    return factories.ProjectFactory(design=design, name="Press", customer="Mill")


def edited(page, client, **typed):
    return client.post(page, boxes(client, page) | typed)


def test_a_form_that_nobody_else_touched_is_kept(owner_client, project):
    page = reverse("project-edit", args=[project.pk])
    assert edited(page, owner_client, customer="Museum").status_code == 302
    assert Project.objects.get().customer == "Museum"


def test_two_forms_at_once_the_second_is_told_and_shown_both(owner_client, restorer_client, project):
    page = reverse("project-edit", args=[project.pk])
    mine = boxes(owner_client, page) | {"customer": "Museum"}
    edited(page, restorer_client, customer="Trust", note="call first")
    answer = owner_client.post(page, mine)
    told = answer.content.decode()
    assert "Somebody changed this while you had it open" in told
    assert "Meanwhile it was made: Trust" in told
    assert 'value="Museum"' in told
    assert "Meanwhile it was made: call first" in told
    assert Project.objects.get().customer == "Trust"
    again = mine | {"seen": re.search(r'name="seen" value="([^"]+)"', told)[1]}
    assert owner_client.post(page, again).status_code == 302
    assert Project.objects.get().customer == "Museum"


def test_what_both_made_the_same_is_no_clash_and_a_form_sent_twice_is_kept_once(owner_client, restorer_client, project):
    page = reverse("project-edit", args=[project.pk])
    mine = boxes(owner_client, page) | {"customer": "Museum"}
    edited(page, restorer_client, customer="Museum")
    assert [owner_client.post(page, mine).status_code for _ in range(2)] == [302, 302]


def test_other_facts_that_changed_are_not_written_back_unseen(owner_client, workshop, yard):
    page = reverse("place-edit", args=[yard.pk])
    mine = boxes(owner_client, page) | {"name": "Cobbled yard"}
    Place.objects.filter(pk=yard.pk).update(wet_room=12)
    told = owner_client.post(page, mine).content.decode()
    assert "Meanwhile it was made: 12 m²" in told
    assert Place.objects.get(pk=yard.pk).wet_room.magnitude == 12


def test_the_tables_of_a_sheet_are_watched_too(owner_client, workshop):
    coating = factories.with_drying_table(factories.CoatingFactory(workshop=workshop))
    page = reverse("coating-edit", args=[coating.pk])
    mine = boxes(owner_client, page)
    coating.drying_points.filter(temperature=20).update(recoat_from=9)
    told = owner_client.post(page, mine).content.decode()
    assert "The table below was changed too" in told
    assert coating.drying_points.get(temperature=20).recoat_from.magnitude == 9
    assert Coating.objects.count() == 1


def test_settings_are_watched_too(owner_client, workshop):
    page = reverse("settings")
    mine = boxes(owner_client, page) | {"wage": "31"}
    Workshop.objects.update(wage=29)
    told = owner_client.post(page, mine).content.decode()
    assert "Meanwhile it was made: 29.00" in told
    assert Workshop.objects.get().wage == 29


def test_every_form_that_changes_a_row_carries_what_it_showed(owner_client, one_of_each):
    """Pages that print their boxes by themselves would leave the hidden one out."""
    watched, forgotten = set(), []
    pages = {name for name in NAMES if name.endswith("-edit")}
    for name in sorted(pages | {"settings", "cost-terms", "operation", "visit-piece"}):
        for page in {address(name, row.pk) for row in one_of_each}:
            answer = owner_client.get(page)
            form = answer.context.get("form") if answer.status_code == 200 and answer.context else None
            if "seen" in getattr(form, "fields", ()):
                watched.add(name)
                forgotten += [name] if 'name="seen"' not in answer.content.decode() else []
    assert not forgotten
    assert len(watched) >= 18
