"""Sign-ins that are listed and ended, a new password without mail, and the page that tells who did what."""

import re

import pytest
from django.contrib.auth.hashers import identify_hasher, make_password
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client, override_settings
from django.urls import reverse

from finishing.workshops.models import AuditEntry, Membership, SignIn
from projects import settings as ours
from tests import factories

pytestmark = pytest.mark.django_db
PHONE = "Mozilla/5.0 (Android 14; Mobile; rv:128.0) Gecko/128.0 Firefox/128.0"
NEW = {"new_password1": "grit and iron 7", "new_password2": "grit and iron 7"}


def told(client, **asked):
    return client.get(reverse("audit"), asked).content.decode()


def another_device(user, agent=PHONE):
    client = Client(headers={"user-agent": agent})
    user.set_password("castiron and grit")
    user.save()
    client.post(reverse("sign-in"), {"username": user.username, "password": "castiron and grit"})
    assert client.get("/").status_code == 200
    return client


def test_a_device_is_listed_by_words_one_knows_it_by_and_signed_out_from_another(helper):
    phone, laptop = (
        another_device(helper),
        another_device(helper, "Mozilla/5.0 (X11; Linux x86_64) Chrome/126 Safari/537"),
    )
    phone = another_device(helper)  # the new password of the second has ended the first
    laptop = Client(headers={"user-agent": "Mozilla/5.0 (X11; Linux x86_64) Chrome/126.0 Safari/537.36"})
    laptop.post(reverse("sign-in"), {"username": helper.username, "password": "castiron and grit"})
    page = laptop.get(reverse("password")).content.decode()
    assert "Firefox on Android" in page
    assert "Chrome on Linux" in page
    away = SignIn.objects.still_open().get(device="Firefox on Android", session_key=phone.session.session_key)
    laptop.post(reverse("sign-ins-end"), {"sign_in": away.pk})
    assert phone.get("/").url.startswith(reverse("sign-in"))
    assert laptop.get("/").status_code == 200


def test_nobody_ends_another_s_sign_in_or_asks_for_what_is_no_sign_in(owner_client, helper):
    phone = another_device(helper)
    row = SignIn.objects.get(session_key=phone.session.session_key)
    assert owner_client.post(reverse("sign-ins-end"), {"sign_in": row.pk}).status_code == 404
    assert owner_client.post(reverse("sign-ins-end"), {"sign_in": "nonsense"}).status_code == 404
    owner_client.post(reverse("sign-ins-end"), {"sign_in": "others"})
    assert phone.get("/").status_code == 200


def test_a_changed_password_signs_out_all_other_devices(helper):
    phone = another_device(helper)
    laptop = Client()
    laptop.post(reverse("sign-in"), {"username": helper.username, "password": "castiron and grit"})
    laptop.post(reverse("password"), {"old_password": "castiron and grit", **NEW})
    assert phone.get("/").url.startswith(reverse("sign-in"))
    assert laptop.get("/").status_code == 200
    assert [row.session_key for row in SignIn.objects.still_open()] == [laptop.session.session_key]


def link_for(client, membership):
    page = client.post(reverse("member-password", args=[membership.pk])).content.decode()
    return re.search(r"http://testserver(/new-password/[\w-]+/[\w-]+/)", page)[1]


def test_an_owner_s_link_gives_a_new_password_once_and_signs_out_every_device(owner_client, helper, workshop):
    phone = another_device(helper)
    link, visitor = link_for(owner_client, Membership.objects.get(user=helper)), Client()
    form = visitor.get(link).url
    assert visitor.post(form, NEW).url == reverse("sign-in")
    assert phone.get("/").url.startswith(reverse("sign-in"))
    assert Client().login(username=helper.username, password=NEW["new_password1"])
    assert "has been used" in Client().get(link).content.decode()
    page = told(owner_client)
    assert "made a link for a new password: for helper" in page
    assert "changed a password" in page


def test_a_link_does_no_more_once_the_person_has_signed_in_or_a_day_has_passed(owner_client, helper, settings):
    link = link_for(owner_client, Membership.objects.get(user=helper))
    settings.PASSWORD_RESET_TIMEOUT = -1
    assert "a day has passed" in Client().get(link).content.decode()
    settings.PASSWORD_RESET_TIMEOUT = 3600
    another_device(helper)
    assert "signed in with the old password" in Client().get(link).content.decode()


def test_an_owner_opens_no_other_workshop_s_door_by_such_a_link(owner_client, helper, other_workshop):
    membership = Membership.objects.get(user=helper)
    factories.MembershipFactory(workshop=other_workshop, user=helper)
    answer = owner_client.post(reverse("member-password", args=[membership.pk]), follow=True).content.decode()
    assert "belongs to a workshop that is not yours" in answer
    assert "/new-password/" not in answer


def test_nor_that_of_whoever_keeps_the_installation(owner_client, helper):
    helper.is_staff = True
    helper.save()
    answer = owner_client.post(reverse("member-password", args=[Membership.objects.get(user=helper).pk]), follow=True)
    assert "keeps this installation" in answer.content.decode()


def test_the_command_gives_an_owner_such_a_link(owner, capsys):
    call_command("password_link", owner.username, "--address", "https://shop.example/")
    said = capsys.readouterr().out.strip()
    assert said.startswith("https://shop.example/new-password/")
    assert Client().get(said.removeprefix("https://shop.example")).status_code == 302
    with pytest.raises(CommandError, match="Nobody signs in as 'nobody'"):
        call_command("password_link", "nobody")


def test_rights_and_what_leaves_the_house_are_told_to_owners_of_this_workshop_alone(
    owner_client, stranger_client, helper_client, helper, workshop
):
    membership = Membership.objects.get(user=helper)
    owner_client.post(reverse("invite"), {"role": "guest"})
    owner_client.post(reverse("member-role", args=[membership.pk]), {"role": "restorer"})
    project = factories.ProjectFactory(design__workshop=workshop)
    owner_client.get(reverse("paint-csv", args=[project.pk]))
    owner_client.post(reverse("member-remove", args=[membership.pk]))
    Client().post(reverse("sign-in"), {"username": "owner", "password": "wrong"})
    Client().post(reverse("sign-in"), {"username": "a secret in the wrong box", "password": "wrong"})
    page = told(owner_client)
    for words in ("made a link to join: a guest", "changed a role: helper: restorer", "took a member out: helper"):
        assert words in page
    assert re.search(r"took data away: [\w-]+\.csv", page)
    assert "a wrong password" in page
    assert "a secret in the wrong box" not in page
    assert "changed a role:" not in told(owner_client, what="invited")
    assert "changed a role: helper" not in told(stranger_client)
    assert told(owner_client, what="☃", page="999")


def test_nobody_but_an_owner_reads_it(helper_client, guest_client):
    assert helper_client.get(reverse("audit")).status_code == 403
    assert guest_client.get(reverse("audit")).status_code == 403


def test_passwords_are_kept_by_argon2_and_older_ones_are_still_read(db):
    with override_settings(PASSWORD_HASHERS=ours.PASSWORD_HASHERS):
        kept = make_password("grit and iron 7")
        assert kept.startswith("argon2$argon2id$v=19$m=19456,t=2,p=1$")
        assert identify_hasher(make_password("x", hasher="pbkdf2_sha256")).algorithm == "pbkdf2_sha256"
    assert AuditEntry.objects.count() == 0
