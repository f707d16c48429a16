"""A tag on a piece opens its log form, for whoever works there and nobody else."""

import pytest

from projects.record.actions.tags import tag_anew, tags_of
from projects.record.domain.tags import tag_address
from projects.record.models import Piece, Tag
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(workshop):
    return factories.PieceFactory(part__design__workshop=workshop)


def test_it_opens_the_log_form_of_the_piece_and_so_do_the_tags_before_it(helper_client, piece):
    first = tags_of([piece])[0]
    newer = tag_anew(piece)
    assert tags_of([piece]) == [newer]
    assert Tag.objects.count() == 2
    for tag in (first, newer):
        assert helper_client.get(f"/t/{tag.code}/").url == f"/log/?piece={piece.pk}"
    assert helper_client.get(f"/log/?piece={piece.pk}").status_code == 200


def test_codes_of_many_pieces_are_made_in_as_many_questions_as_of_one(workshop, django_assert_num_queries):
    part = factories.PartFactory(design__workshop=workshop)
    pieces = [factories.PieceFactory(part=part, mark=f"{number}") for number in range(5)]
    pieces = list(Piece.objects.of(workshop).select_related("workshop"))
    with django_assert_num_queries(2):
        tags = tags_of(pieces)
    assert [tag.piece for tag in tags] == pieces
    assert len({tag.code for tag in tags}) == 5
    assert not set("".join(tag.code for tag in tags)) & set("AEIOUY0123456789")


def test_a_code_is_typed_as_people_type(helper_client, piece):
    tag = tags_of([piece])[0]
    for typed in (tag.code.lower(), str(tag), f" {tag.code[:4]}-{tag.code[4:]}"):
        answer = helper_client.get("/t/", {"code": typed}, follow=True)
        assert answer.request["PATH_INFO"] == "/log/"
    wrong = helper_client.get("/t/", {"code": "nothing"}).content.decode()
    assert 'value="nothing"' in wrong
    assert "No piece here has the code nothing" in wrong


def test_who_has_not_signed_in_is_told_the_same_of_every_code(client, helper, piece):
    tag = tags_of([piece])[0]
    answers = [client.get(f"/t/{code}/") for code in (tag.code, "ZZZZZZZZ")]
    assert [answer.status_code for answer in answers] == [200, 200]
    known, unknown = (answer.content.decode().split("<main")[1] for answer in answers)
    assert known.replace(tag.code, "ZZZZZZZZ") == unknown
    assert str(piece.part) not in known
    assert f"/sign-in/?next=/t/{tag.code}/" in known


def test_another_workshop_has_no_such_tag_and_a_guest_sees_the_piece(stranger_client, guest_client, piece):
    tag = tags_of([piece])[0]
    assert stranger_client.get(f"/t/{tag.code}/").status_code == 404
    assert guest_client.get(f"/t/{tag.code}/").url == f"/pieces/{piece.pk}/"


def test_its_address_is_the_workshops_or_the_installations_or_where_it_is_read(restorer_client, piece, settings):
    restorer_client.post(f"/pieces/{piece.pk}/tag/")
    tag = tags_of([piece])[0]
    assert f"http://testserver/t/{tag.code}/" in restorer_client.get(f"/pieces/{piece.pk}/").content.decode()
    settings.SITE_ADDRESS = "https://10.0.0.5:8000"
    assert tag_address(tag, "http://x") == f"https://10.0.0.5:8000/t/{tag.code}/"
    tag.workshop.site_address = "http://workshop.local/"
    assert tag_address(tag, "http://x") == f"http://workshop.local/t/{tag.code}/"


def test_an_address_that_leads_nowhere_is_not_kept(workshop):
    field = workshop._meta.get_field("site_address")
    for typed in ("workshop.local", "ftp://workshop.local", "http://workshop.local/log/", "http://"):
        with pytest.raises(Exception, match="As https://workshop"):
            field.clean(typed, workshop)
    assert field.clean("http://restorer:8000", workshop) == "http://restorer:8000"
