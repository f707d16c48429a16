"""Every page with every row, of its own kind or not; the suite tries those that it knows and one of another kind."""

import pytest

from tests.addresses import NAMES, pages
from tests.projects.demo.conftest import demonstration
from tests.projects.demo.test_demo import no_link_leads_nowhere
from tests.test_site import broken_addresses, broken_form, seen_by_strangers

__all__ = ["demonstration"]
pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", NAMES)
def test_no_row_is_an_error_of_ours_or_a_stranger_s(owner_client, stranger_client, one_of_each, name):
    assert not seen_by_strangers(stranger_client, name, one_of_each)
    assert not broken_addresses(owner_client, name, one_of_each)
    assert not any(broken_form(owner_client, here, owner_client.get(here)) for here in pages(name, one_of_each))


def test_no_link_of_eight_of_a_kind_leads_nowhere(demonstration):
    no_link_leads_nowhere(most=8)
