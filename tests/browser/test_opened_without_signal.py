"""Over TLS, in a browser that trusts the workshop's own authority: installable, and opened where there is no signal."""

import base64
import hashlib
import socket
from contextlib import closing
from datetime import UTC, datetime

import pytest
from cryptography.hazmat.primitives import serialization
from django.db import connections

from projects.management.tls import TlsServer
from projects.record.models import Step
from projects.site.authority import kept_authority
from tests import factories
from tests.conftest import CHROMIUM, QUIET

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def over_tls(live_server, tmp_path):
    """The live site behind the server that `serve --tls` runs: its address, and the authority's key as it is pinned."""
    site, held = live_server.thread.httpd.get_app(), live_server.thread.connections_override

    def in_its_database(environ, start_response):
        for alias, connection in held.items():
            connections[alias] = connection
        return site(environ, start_response)

    authority = kept_authority(tmp_path / "tls", ["localhost"], datetime.now(UTC))
    authority.renew_server(["localhost"], datetime.now(UTC))
    form = serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    pin = base64.b64encode(hashlib.sha256(authority.certificate.public_key().public_bytes(*form)).digest()).decode()
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        server = TlsServer(listener, in_its_database, str(authority.server_file))
        with server.running():
            yield f"https://localhost:{listener.getsockname()[1]}", pin


@pytest.fixture
def phone(chromium, over_tls, tmp_path):
    """A browser of its own that trusts the authority."""
    address, pin = over_tls
    context = chromium.browser_type.launch_persistent_context(
        str(tmp_path / "phone"),
        executable_path=CHROMIUM,
        args=[*QUIET, f"--ignore-certificate-errors-spki-list={pin}"],
        base_url=address,
        viewport={"width": 390, "height": 844},
    )
    yield context
    context.close()


def test_the_day_sheet_opens_without_signal_as_it_was_takes_an_entry_and_is_gone_after_signing_out(
    phone, owner, workshop, roof, system
):
    piece = factories.PieceFactory(part__design__workshop=workshop, part__system=system, place=roof)
    page = phone.new_page()
    faults = []
    page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("owner")
    page.get_by_label("Password", exact=True).fill("iron and grit")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Day sheet").wait_for()
    assert phone.new_cdp_session(page).send("Page.getInstallabilityErrors")["installabilityErrors"] == []
    page.wait_for_function("caches.open('seen').then((seen) => seen.keys()).then((kept) => kept.length === 2)")
    page.goto("/costs/")
    phone.set_offline(True)
    page.close()
    page = phone.new_page()
    page.goto("/projects/")
    page.get_by_text("No signal. The day sheet as it was at").wait_for()
    page.get_by_role("link", name="Log a step").click()
    page.get_by_label("What was done").select_option("noted")
    page.get_by_label(piece.mark).check()
    page.get_by_label("Note").fill("lid off")
    page.get_by_role("button", name="Keep it until there is signal").click()
    page.get_by_text("1 entry waits for the workshop").wait_for()
    phone.set_offline(False)
    page.get_by_role("button", name="Send now").click()
    page.get_by_text("1 entry waits").wait_for(state="detached")
    assert Step.objects.get().note == "lid off"
    page.goto("/")
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    page.wait_for_function("caches.has('seen').then((has) => !has)")
    phone.set_offline(True)
    with pytest.raises(Exception, match="net::ERR_"):
        page.goto("/")
    assert not faults
