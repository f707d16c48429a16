"""No two pages tell one fact differently: the demonstration at five moments, its pages read as a person reads them."""

import re
import uuid
from collections import defaultdict
from datetime import timedelta
from html import unescape

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from finishing.workshops.models import User
from projects.plans.actions.making import make_plan
from projects.plans.actions.plans import accept_plan, ask_plan
from projects.plans.actions.rechecking import recheck_kept_plans
from projects.record.actions.log import log_step
from projects.record.models import Piece, Plan, Project, Slot, Step, Visit

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
CLOCK = r"\d\d:\d\d"
WHEN = rf"(?:[A-Z]?[a-z]+ )?(?:\d+ [A-Z][a-z]+ )?{CLOCK}"  # "today 14:20", "Thu 14:20", "Thu 21 May 14:20"
NOT_READ = re.compile(r'(?s)<(svg|script|style|head)\b.*?</\1>|<details class="(?:working|numbers)".*?</details>')
BARE = re.compile(rf"(coat before|known until|may rain from|time up since|wet since|not known since) ({WHEN})", re.I)
MAY_BEGIN = re.compile(
    rf"may begin now|(?<![a-z] )now(?= by the plan|$)|\bfrom ({WHEN})|no hour in (?:the forecast|sight)"
)
BY_PLAN = re.compile(rf"by the plan ({WHEN})", re.I)


def words(html):
    """What a person reads: without pictures and folded workings, one blank between words."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", NOT_READ.sub(" ", html))).replace("\u202f", "").split())


class Told:
    """Facts as (what, about what), each with what every page prints of it."""

    def __init__(self, client):
        self.client, self.facts = client, defaultdict(lambda: defaultdict(set))
        self.marks = {str(piece.pk): piece.mark for piece in Piece.objects.all()}
        self.first_coats = {}  # by mark, the step of the plan that is its next coat

    def read_all(self):
        self.plan_and_calendar()
        self.day_sheet()
        for project in Project.objects.filter(closed=False):
            self.project(project)
        for piece in Piece.objects.at_work().filter(mark__in=LOOKED_AT):
            self.piece(piece)
        for visit in Visit.objects.still_open():
            self.visit(visit)
        return self

    def tell(self, what, about, page, said):
        self.facts[what, about][page].add(said)

    @property
    def contradictions(self):
        return [(fact, dict(pages)) for fact, pages in self.facts.items() if len(set().union(*pages.values())) > 1]

    def told_twice(self, what):
        """How many facts of this sort two pages or more tell."""
        return sum(fact[0] == what and len(pages) > 1 for fact, pages in self.facts.items())

    def html(self, name, *args, **asked):
        answer = self.client.get(reverse(name, args=args), asked)
        assert answer.status_code == 200
        return NOT_READ.sub(" ", answer.content.decode())

    def about(self, html, kind):
        """What an item of a list says behind its link to a piece or to a step of the plan, up to the next such link."""
        for part in re.split(rf'href="(?:https?://[^/]*)?/{kind}/', html)[1:]:
            if re.match(r'[0-9a-f-]{36}/["#]', part):
                yield part[:36], words(part[37:].split("</li>")[0].split(">", 1)[-1])

    # -- page by page

    def plan_and_calendar(self):
        for plan in Plan.objects.kept():
            self.steps("plan", self.html("plan", kept=1))
            answer = self.client.get(reverse("plan-file", args=[plan.pk]))
            for event in Calendar.from_ical(answer.content).walk("VEVENT"):
                slot, begins = re.search(r"[0-9a-f-]{36}", event["url"])[0], event.decoded("dtstart")
                clock = f"{begins.astimezone(plan.workshop.zone):%H:%M}"
                if "dtend" in event:
                    self.tell("step begins", slot, "calendar", clock)
                elif "is bare" in event["summary"]:
                    self.tell("first coat before", slot, "calendar", clock)

    def steps(self, page, html):
        for slot, text in self.about(html, "plan/slots"):
            if clock := re.search(CLOCK, text):  # a plan's weakest step is named without its time
                self.tell("step begins", slot, page, clock[0])

    def day_sheet(self):
        html = self.html("day-sheet")
        self.steps("day sheet", html)
        for item in re.findall(r"(?s)<li\b.*?</li>", html):  # pieces that are alike share one
            pieces = dict.fromkeys(re.findall(r'"/pieces/([0-9a-f-]{36})/', item))
            for piece in pieces:
                self.piece_told("day sheet", self.marks[piece], words(item), alone=len(pieces) == 1)
        for name, when in re.findall(rf"([\w ]+?) comes ({WHEN})", words(html)):
            self.tell("visit begins", name.split(" blasted: ")[-1].lstrip("0123456789 "), "day sheet", when[-5:])

    def project(self, project):
        for piece, text in self.about(self.html("project", project.pk), "pieces"):
            self.piece_told("project", self.marks[piece], text)

    def piece(self, piece):
        html = self.html("piece", piece.pk)
        if share := re.search(r"([\d.]+) GBP reckoned", words(html)):
            self.tell("share of the cost", piece.mark, "piece", share[1])
        card = html.split('aria-label="Next step"')[1].split("</section>")[0]
        self.piece_told("piece", piece.mark, words(card.split('class="by-plan"')[0]))
        self.steps("piece", card)
        steps = list(self.about(card, "plan/slots"))
        if steps:
            self.tell("next by the plan", piece.mark, "piece", re.search(WHEN, steps[0][1])[0])
        for slot, text in [step for step in steps if "coat of" in step[1]][:1]:
            self.first_coats[piece.mark] = slot
            self.tell("first coat", piece.mark, "piece", re.search(CLOCK, text)[0])

    def piece_told(self, page, mark, text, alone=True):
        if bare := BARE.search(text):
            self.tell("bare", mark, page, (bare[1].lower(), bare[2]))
        if (last := re.search(rf"last stroke by (?:[a-z]+ )?({CLOCK})", text, re.I)) and mark in self.first_coats:
            self.tell("first coat before", self.first_coats[mark], page, last[1])
        if begins := MAY_BEGIN.search(text):
            self.tell("coat may begin", mark, page, begins[1] or ("now" if "now" in begins[0] else "no hour"))
        if alone and (by_plan := BY_PLAN.search(text)):
            self.tell("next by the plan", mark, page, by_plan[1])

    def visit(self, visit):
        about, sheet = visit.contractor, self.html("blast-sheet", visit.pk).split("How it was worked out")[0]
        detail, run = self.html("visit", visit.pk), self.html("visit-run", visit.pk)
        self.tell("visit begins", about, "visit", re.search(rf"({CLOCK})–{CLOCK}", words(detail))[1])
        self.tell("visit begins", about, "sheet", re.search(rf"({CLOCK}) to {CLOCK}", words(sheet))[1])
        for piece, text in self.about(sheet, "pieces"):
            mark = self.marks[piece]
            if turn := re.search(rf"({CLOCK}–{CLOCK}) \d+ min", text):
                self.tell("is blasted", mark, "sheet", turn[1])
            if coat := re.search(rf"planned \w+ ({CLOCK}) in .+?, before \w+ ({CLOCK})", text):
                self.tell("first coat", mark, "sheet", coat[1])
                if mark in self.first_coats:
                    self.tell("first coat before", self.first_coats[mark], "sheet", coat[2])
        by_piece = re.findall(r'(?s)<th scope="row">.*?/pieces/([0-9a-f-]{36})/.*?([\d.]+)</td>\s*</tr>', sheet)
        for piece, share in by_piece:
            self.tell("share of the cost", self.marks[piece], "sheet", share)
        for piece, text in self.about(run, "pieces"):
            if turn := re.search(rf"({CLOCK}–{CLOCK}) in .+? by the kept plan; first coat ({WHEN})", text):
                self.tell("is blasted", self.marks[piece], "run", turn[1])
                self.tell("first coat", self.marks[piece], "run", turn[2][-5:])
        by_mark = re.split(r'href="/visits/pieces/', detail)[1:]
        for text in map(words, by_mark):
            if turn := re.search(rf"> ([\w-]+) .*?({CLOCK}–{CLOCK}), \d+ min", text):
                self.tell("is blasted", turn[1], "visit", turn[2])
        if cost := re.search(r"Cost ([\d.]+) GBP", words(sheet)):
            self.tell("cost", about, "sheet", cost[1])
            self.tell("cost", about, "visit", re.search(r"pieces?, ([\d.]+) GBP", words(detail))[1])
        self.evening(visit)

    def evening(self, visit):
        if visit.ends_at <= timezone.now():
            return
        html, about = self.html("evening-before", visit=str(visit.pk)), visit.contractor
        self.tell("calling off costs", about, "evening", re.search(r"costs ([\d.]+) GBP", words(html))[1])
        if now := re.search(r"now \d+\s%, which is ([\d.]+) GBP", words(self.html("visit", visit.pk))):
            self.tell("calling off costs", about, "visit", now[1])
        turns = {
            mark: turn for (what, mark), pages in self.facts.items() if what == "is blasted" for turn in pages["sheet"]
        }
        for course in re.split('<li class="card course', html)[1:]:
            if "/sheet/" in course:  # the course that the blast sheet belongs to
                text = words(course)
                self.tell("cost", about, "evening", re.search(r"([\d.]+) GBP", text)[1])
                marks = re.findall(r"/pieces/([0-9a-f-]{36})/", course)
                self.tell("who is blasted", about, "evening", tuple(sorted(self.marks[mark] for mark in marks)))
                self.tell("who is blasted", about, "sheet", tuple(sorted(turns)))
                if hours := re.search(rf"({CLOCK}) to ({CLOCK}):", text):
                    self.tell("blasted from, to", about, "evening", hours.groups())
                    ends = min(turn[:5] for turn in turns.values()), max(turn[-5:] for turn in turns.values())
                    self.tell("blasted from, to", about, "sheet", ends)


LOOKED_AT = ["1-AA", "FW", "WT", "2-FW", "2-TQ", "CJ-2", "2-FA", "2-FB", "2-TB", "1-FA"]
PLANNED = ["1-AA", "1-AB", "1-TB", "FW", "TB", "WT", "2-AA", "2-AB", "2-FW", "2-TQ"]


@pytest.fixture(scope="module")
def offered(demonstration, django_db_blocker):
    """A plan of some racks, four castings of the contractor's next visit among them, not accepted yet."""
    workshop, now = demonstration
    with django_db_blocker.unblock(), transaction.atomic():
        pieces = Piece.objects.of(workshop).filter(mark__in=PLANNED)
        projects = Project.objects.of(workshop).filter(pk__in=pieces.values("project"))
        settings = {"pieces": [str(piece.pk) for piece in pieces], "seconds": 2}
        by = User.objects.get(username="owner")
        run = make_plan(ask_plan(workshop, projects, by=by, now=now, settings=settings), now)
        assert run.best is not None
        yield run.best
        transaction.set_rollback(True)


@pytest.fixture
def accepted(offered):
    return accept_plan(Plan.objects.get(pk=offered.pk), by=User.objects.get(username="owner"), now=timezone.now())


def read():
    client = Client()
    client.force_login(User.objects.get(username="owner"))
    told = Told(client).read_all()
    assert told.contradictions == []
    return told


def blasting_of(plan):
    return plan.slots.filter(kind=Slot.Kind.BLAST).exclude(visit=None).order_by("begin").first()


def test_without_a_plan(demonstration):
    told = read()
    assert told.told_twice("bare") >= 4
    assert told.told_twice("coat may begin") >= 6
    assert told.told_twice("is blasted") >= 5
    assert told.told_twice("cost") == told.told_twice("who is blasted") == 1


def test_with_an_accepted_plan(accepted):
    told = read()
    assert told.told_twice("step begins") == accepted.slots.count() >= 13
    assert told.told_twice("next by the plan") >= len(PLANNED) - 2
    assert told.told_twice("who is blasted") == told.told_twice("cost") == 1
    assert told.told_twice("share of the cost") >= 2
    before = told.facts["first coat before", told.first_coats["2-FW"]]
    assert {"calendar", "sheet"} <= before.keys()
    assert {"sheet", "run", "piece"} <= told.facts["first coat", "2-FW"].keys()


def test_an_hour_before_the_contractor_comes_with_nothing_logged(accepted):
    with time_machine.travel(blasting_of(accepted).begin - timedelta(hours=1), tick=False):
        recheck_kept_plans(accepted.workshop, timezone.now())
        assert any(slot.broken for slot in accepted.slots.all())
        told = read()
    assert told.told_twice("is blasted") >= 4
    assert told.told_twice("next by the plan") >= 5


def test_after_one_of_a_rack_is_blasted(accepted):
    blasting = blasting_of(accepted)
    with time_machine.travel(blasting.begin + timedelta(minutes=20), tick=False):
        first = blasting.pieces.get(mark="2-FW")
        by, now = User.objects.get(username="owner"), timezone.now()
        entry = {"by": by, "key": uuid.uuid4(), "kind": Step.Kind.BLASTED, "happened_at": now, "place": blasting.place}
        log_step(**entry, pieces=[first], of_each={})
        recheck_kept_plans(accepted.workshop, now)
        told = read()
    assert told.told_twice("cost") == 1
    assert ("is blasted", first.mark) not in told.facts
    assert len(told.facts["bare", first.mark]) == 3


def test_when_nothing_is_foretold_any_more(accepted):
    with time_machine.travel(timezone.now() + timedelta(days=20), tick=False):
        told = read()
    assert told.told_twice("bare") >= 3
    assert told.told_twice("coat may begin") >= 5
    begins = [said for (what, _), pages in told.facts.items() if what == "coat may begin" for said in pages.values()]
    assert begins
    assert {"now"} not in begins
