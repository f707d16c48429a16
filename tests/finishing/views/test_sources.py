from django.urls import reverse

from finishing.science.sources import SOURCES


def test_it_shows_every_work_cited_to_a_stranger(client, db):
    page = client.get(reverse("sources")).content.decode()
    for work in SOURCES.values():
        assert work.key in page
    assert "blast again" in page


def test_signing_in_leads_on_and_a_wrong_password_keeps_the_name(client, owner):
    page = client.post(reverse("sign-in"), {"username": "owner", "password": "wrong"}).content.decode()
    assert "do not belong together" in page
    assert 'value="owner"' in page
