"""The cast as fixtures, a database that may be emptied after a test in spite of the guarded log, and Chromium."""

import gc
import os
import shutil
import uuid
from datetime import date

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client, override_settings

from finishing.site.models import WorkshopRow
from finishing.workshops.models import DayOff, Membership, Place
from projects.record.actions.tags import tag_anew
from projects.record.log_guard import unguard
from projects.record.models import MailReader

from . import cost_factories, factories
from .addresses import known_pages, of_kind
from .open_years import open_years as read_open_years

QUIET = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)


def pytest_collection_modifyitems(config, items):
    """On PostgreSQL only what it may answer otherwise is asked again: rows and their guards, what is read of them and
    what is done to them, and each page and form, but of one that is tried in many cases only the first."""
    if connection.vendor == "postgresql":
        near = [item for item in items if comes_near_the_database(item)]
        firsts = {item.nodeid.partition("[")[0]: item for item in reversed(near)}
        asked = [item for item in near if not of_pages(item) or firsts[item.nodeid.partition("[")[0]] is item]
        config.hook.pytest_deselected(items=[item for item in items if item not in set(asked)])
        items[:] = asked


def comes_near_the_database(item):
    rows = item.get_closest_marker("django_db") or {"db", "transactional_db"} & {*getattr(item, "fixturenames", ())}
    return rows and not any(map(item.get_closest_marker, ("browser", "one_database")))


def of_pages(item):
    return item.path.parent.name == "views" or item.path.name == "test_site.py"


def pytest_collection_finish():
    """What is there by now stays to the end, and tests leave much behind: the collector looks through neither so often,
    which is a sixth of the time of all."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 10, 10)


@pytest.fixture(autouse=True)
def _flush_may_empty_the_log(request):
    """A test with real commits is cleaned up by emptying the tables, which the log's triggers refuse on SQLite.

    They come down just before; the migration signal that ends every flush puts them up again.
    """
    marker = request.node.get_closest_marker("django_db")
    commits = {"transactional_db", "live_server"} & set(request.fixturenames)
    if not (commits or (marker and marker.kwargs.get("transaction"))):
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    unguard(connection)


@pytest.fixture(scope="session")
def open_years():
    """Three whole years of real hours: {"inland": Hours, "cold coast": Hours, "river plain": Hours}."""
    return read_open_years()


@pytest.fixture(scope="session", autouse=True)
def _quick_passwords():
    """A password that takes a second to try is right on a server and waste here."""
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture
def workshop(db):
    return factories.WorkshopFactory()


@pytest.fixture
def other_workshop(db):
    return factories.WorkshopFactory(name="Farther Works")


def _member(workshop, name, role):
    return factories.MembershipFactory(workshop=workshop, user__username=name, role=role).user


@pytest.fixture
def owner(workshop):
    return _member(workshop, "owner", Membership.Role.OWNER)


@pytest.fixture
def restorer(workshop):
    return _member(workshop, "restorer", Membership.Role.RESTORER)


@pytest.fixture
def helper(workshop):
    return _member(workshop, "helper", Membership.Role.HELPER)


@pytest.fixture
def guest(workshop):
    return _member(workshop, "guest", Membership.Role.GUEST)


@pytest.fixture
def stranger(other_workshop):
    return _member(other_workshop, "stranger", Membership.Role.OWNER)


def _client_of(user):
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def owner_client(owner):
    return _client_of(owner)


@pytest.fixture
def restorer_client(restorer):
    return _client_of(restorer)


@pytest.fixture
def helper_client(helper):
    return _client_of(helper)


@pytest.fixture
def guest_client(guest):
    return _client_of(guest)


@pytest.fixture
def stranger_client(stranger):
    return _client_of(stranger)


@pytest.fixture
def yard(workshop):
    return factories.PlaceFactory(workshop=workshop, name="Yard", kind=Place.Kind.YARD)


@pytest.fixture
def roof(workshop):
    return factories.PlaceFactory(workshop=workshop, name="Lean-to", kind=Place.Kind.ROOF)


@pytest.fixture
def shop(workshop):
    return factories.PlaceFactory(workshop=workshop, name="Shop", kind=Place.Kind.SHOP, held_at=16)


@pytest.fixture
def primer(workshop):
    return factories.with_drying_table(factories.CoatingFactory(workshop=workshop, name="grey primer"))


@pytest.fixture
def enamel(workshop):
    coating = factories.CoatingFactory(
        workshop=workshop, name="green enamel", generic_type="alkyd enamel", is_primer=False, colour="#2f5d3a"
    )
    return factories.with_drying_table(coating)


@pytest.fixture
def system(workshop, primer, enamel):
    """Primer and two coats of enamel."""
    system = factories.SystemFactory(workshop=workshop, name="primer and two of green")
    for position, coating in enumerate((primer, enamel, enamel), start=1):
        factories.LayerFactory(system=system, position=position, coating=coating)
    return system


@pytest.fixture
def one_of_each(workshop, owner, yard, system, settings, tmp_path):
    """A row of each kind that an address may name, all of the small workshop."""
    settings.MEDIA_ROOT, settings.BACKUPS = tmp_path, tmp_path / "backups"
    nameplate = factories.PartFactory(design__workshop=workshop, nameplate=True, lettering="LOWER MILL")
    step = factories.StepFactory(piece=factories.PieceFactory(part=nameplate), by=owner)
    try_out = factories.TryOutFactory(photo=factories.photo_of(step, factories.grey_photo()))
    factories.CandidateFactory(try_out=try_out)
    off = factories.StepFactory(piece=step.piece, by=owner, kind="taken off", rack=uuid.uuid4())
    machine = factories.MachineFactory(project=step.piece.project)
    factories.RemovalFactory(step=off, machine=machine)
    factories.FilmReadingFactory(piece=step.piece, by=owner)
    factories.CastingSizeFactory(part=step.piece.part)
    factories.WordingFactory(part=step.piece.part, by=owner)
    tag_anew(step.piece)
    factories.LoanFactory(piece=step.piece, by=owner)
    factories.OpenedTinFactory(
        coating__workshop=workshop, coating__keeps_opened=30, opened_on=date(2020, 1, 1), by=owner
    )
    MailReader.objects.create(workshop=workshop, address="ida@example.org", about=["bare"])
    factories.ReadingFactory(place=yard)
    factories.SensorFactory(place=yard)
    factories.mild_year(workshop)
    DayOff.objects.create(workshop=workshop, first=date(2026, 12, 24), last=date(2026, 12, 26))
    factories.SlotFactory(plan__run__workshop=workshop, place=yard, pieces=[step.piece])
    factories.CalendarAddressFactory(workshop=workshop)
    factories.VisitTaskFactory(visit=factories.VisitPieceFactory(piece=step.piece).visit)
    part = step.piece.part
    cost_factories.ToolFactory(operation=cost_factories.OperationFactory(part=part))
    revision = cost_factories.RevisionFactory(part=part)
    cost_factories.ExpenseFactory(design=part.design, revision=revision)
    cost_factories.TrialFactory(check_done=cost_factories.CheckFactory(part=part), machine=machine)
    ordered = cost_factories.OrderLineFactory(operation__part=part, order__project=step.piece.project, quantity=4)
    cost_factories.ReceiptFactory(line=ordered, by=owner)
    cost_factories.RateFactory(workshop=workshop)
    cost_factories.QuoteFactory(operation=ordered.operation, supplier=ordered.order.supplier)
    cost_factories.RequestFactory(design=part.design, operations=[ordered.operation])
    cost_factories.StagePaymentFactory(buyer__design=part.design)
    cost_factories.PaintReceiptFactory(project=step.piece.project, by=owner)
    kinds = [model for model in apps.get_models() if issubclass(model, WorkshopRow)]
    return [row for model in kinds if (row := model.objects.of(workshop).first())]


@pytest.fixture
def known(owner_client, one_of_each):
    """By the name of each page what is known of it."""
    return known_pages(owner_client, one_of_each)


@pytest.fixture
def tried(known, one_of_each):
    """By the name of a page the rows that it knows and one of another kind; benchmarks/ try each with every row."""
    return {
        name: of_kind(one_of_each, page.kind) + [row for row in one_of_each if type(row) is not page.kind][:1]
        for name, page in known.items()
    }


@pytest.fixture(scope="session")
def chromium():
    """One headless Chromium for the run; a page of it comes from `page`."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        if os.environ.get("FETTLEBOOK_REQUIRE") == "browser":
            pytest.fail("no Chromium on this machine, and FETTLEBOOK_REQUIRE asks for it")
        pytest.skip("no Chromium on this machine")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # playwright's loop runs in this thread while Django queries in it
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=QUIET,
        )
        yield browser
        browser.close()


@pytest.fixture
def page(chromium, live_server):
    """A phone's page at the site's address; a script error or a refused style or script fails the test."""
    context = chromium.new_context(base_url=live_server.url, viewport={"width": 390, "height": 844})
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
    yield page
    context.close()
    assert not faults, faults


@pytest.fixture
def signed_in_page(page, owner, live_server):
    """The owner's phone, signed in."""
    client = _client_of(owner)
    page.context.add_cookies(
        [{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}]
    )
    return page
