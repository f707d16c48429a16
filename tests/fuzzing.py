"""Every form that stands on a page, sent from its own fields with what belongs in none of them; every query string;
every reader of files. Nothing may break, take long, or be kept by halves."""

import io
import random
import re
import time
import zipfile
from collections import Counter
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection
from django.urls import Resolver404, resolve

from finishing.workshops.models import AuditEntry, FailedSignIn
from tests import factories
from tests.addresses import is_read, nothing_kept, pages

LONGEST = 5.0  # seconds of the processor for an answer: a clock on the wall tells of others who share the machine too
TABLES = Path(__file__).resolve().parents[1] / "fixtures" / "tables"

HALF_A_CHARACTER = "\u00ed\u00a0"  # bytes that are no text
NUMBERS = re.findall(
    r"\S+",
    """0 -1 -0 1e999 NaN inf -Infinity 1/0 1,5 ½ 1e-400 0x10 1_000 -- ٣ １２ 999999999999999999999999 EUR eur XXXX
    1;2 -1_mm 1_parsec 9**9**9_µm 12°C #gggggg #000 on [] {} [1 true None null %s%n =1+1 @SUM(A1)""",
)
TIMES = re.findall(
    r"\S+",
    """0001-01-01 9999-12-31 0202-05-12 2026-02-30 2026-05-12T25:61 2026-03-29T01:30 24:00 -5:00 12:60
    2026-05-12T07:20:00+99:99""",
)
WORDS = (
    *("", " ", "\x00", "a\x00b", "☃", "💩" * 50, "\u202e\u200b", "Z͑ͫ̓a" * 40, "x" * 100_000, "\r\n\r\n"),
    *("9" * 4000, "0." + "0" * 400 + "1", HALF_A_CHARACTER, "<script>alert(1)</script>", "{{7*7}}"),
    *("'; DROP TABLE projects_step;--", "../../etc/passwd", "javascript:alert(1)", "1 µm 2"),
    *("00000000-0000-0000-0000-000000000000", "not-a-uuid"),
)
TEXTS = (*WORDS, *(number.replace("_", " ") for number in NUMBERS), *TIMES)


def bomb():
    """Little on the way, much when it is unpacked."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 30_000_000)
    return written.getvalue()


BOMB, PHOTO = bomb(), factories.grey_photo()


@dataclass
class SentForm:
    """A form as a browser has it: where it goes to, how, and what stands in its boxes at first."""

    action: str
    method: str
    values: dict[str, list[str]] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)

    @property
    def name(self):
        try:
            return resolve(urlsplit(self.action).path).url_name
        except Resolver404:
            return None

    @property
    def kind(self):
        return self.name, self.method, tuple(sorted({*self.values, *self.choices, *self.files}))


class FormReader(HTMLParser):
    """The forms of a page."""

    def __init__(self, here):
        super().__init__()
        self.here, self.forms, self.form, self.select, self.area = here, [], None, None, None

    def handle_starttag(self, tag, attrs):
        of = dict(attrs)
        if tag == "form":
            self.form = SentForm(urljoin(self.here, of.get("action") or self.here), of.get("method", "get").lower())
            self.forms.append(self.form)
        elif self.form is None:
            return
        elif tag == "input" and of.get("name"):
            self._input(of)
        elif tag == "button" and of.get("name"):
            self.form.choices.setdefault(of["name"], []).append(of.get("value") or "")
        elif tag == "select" and of.get("name"):
            self.select = of["name"]
            self.form.choices.setdefault(self.select, [])
        elif tag == "option" and self.select:
            value = of.get("value") or ""
            self.form.choices[self.select].append(value)
            if "selected" in of:
                self.form.values.setdefault(self.select, []).append(value)
        elif tag == "textarea" and of.get("name"):
            self.area = of["name"]
            self.form.values[self.area] = [""]

    def _input(self, of):
        name, kind, value = of["name"], of.get("type", "text"), of.get("value") or ""
        if kind == "file":
            self.form.files.append(name)
        elif kind in ("checkbox", "radio"):
            self.form.choices.setdefault(name, []).append(value or "on")
            if "checked" in of:
                self.form.values.setdefault(name, []).append(value or "on")
        elif name != "csrfmiddlewaretoken":
            self.form.values.setdefault(name, []).append(value)

    def handle_data(self, data):
        if self.area:
            self.form.values[self.area][0] += data

    def handle_endtag(self, tag):
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None


def forms_of(here, answer):
    reader = FormReader(here)
    reader.feed(answer.content.decode())
    return reader.forms


@dataclass
class Fuzz:
    """What was sent, and what of it went wrong."""

    client: object
    random: random.Random
    sent: int = 0
    slowest: tuple[float, str] = (0.0, "")
    errors: list = field(default_factory=list)
    rows: dict = field(default_factory=dict)
    by_name: Counter = field(default_factory=Counter)

    def go(self, tried, posts):
        """So many posts, each kind of form in its turn, and a query string for each."""
        self.client.raise_request_exception = False
        readable = sorted(here for name, rows in tried.items() for here in pages(name, rows))
        forms = {}
        for here in readable:
            answer = self.client.get(here)
            for form in forms_of(here, answer) if is_read(answer) else ():
                if form.name not in (None, "sign-out"):
                    forms.setdefault(form.kind, form)
        self.rows = rows_kept()  # all that is sent is taken back, so they stay
        ordered = list(forms.values())
        while self.sent < posts:
            self.random.shuffle(ordered)
            for form in ordered[: posts - self.sent]:
                self.send(form)
                if self.sent % 4 == 0:
                    self.ask(self.random.choice(readable), form)
        return self

    def send(self, form):
        data = self.filled(form)
        for name in form.files:
            data[name] = self.file()
        sending = getattr(self.client, form.method if form.method == "get" else "post")
        headers = {"HX-Request": "true"} if self.random.random() < 0.2 else {}
        self.judged(form.name, data, lambda: sending(form.action, data, headers=headers))
        self.sent += 1
        self.by_name[form.name] += 1

    def ask(self, here, form):
        """A page with the boxes of any form as its query string."""
        data = {name: value for name, value in self.filled(form).items() if self.random.random() < 0.5}
        self.judged(here, data, lambda: self.client.get(here, data))

    def filled(self, form):
        """As a browser would send it, but for a few boxes; now and then all of them, or hardly any."""
        data = {name: list(values) for name, values in form.values.items()}
        names = sorted({*form.values, *form.choices})
        for name in names:
            if name not in data and form.choices.get(name) and self.random.random() < 0.7:
                data[name] = [self.random.choice(form.choices[name])]
        share = self.random.choice((0.1, 0.1, 0.3, 0.3, 1.0))
        for name in names:
            if self.random.random() < share:
                data[name] = self.typed(form.choices.get(name))
            elif data.get(name) in ([""], None) and self.random.random() < 0.5:
                data[name] = [self.random.choice(("1", "2.5", "12", "grey", "2026-05-12", "2026-05-12T07:20", "08:00"))]
        return data

    def typed(self, choices):
        if choices and self.random.random() < 0.5:
            return self.random.sample(choices, min(len(choices), self.random.randint(1, 3)))
        return [self.random.choice(TEXTS) for _ in range(self.random.choice((1, 1, 1, 2)))]

    def file(self):
        content = self.random.choice((self._table, self._sheet, self._photo, self._noise, self._bomb))()
        if content and self.random.random() < 0.6:
            content = bytearray(
                content[: self.random.randint(1, len(content))] if self.random.random() < 0.4 else content
            )
            for _ in range(self.random.randint(1, 20)):
                content[self.random.randrange(len(content))] = self.random.randrange(256)
        name = self.random.choice(("a.csv", "b.xlsx", "c.jpg", "d.epw", "e.zip", "../f.csv", "g", "☃.pdf"))
        return SimpleUploadedFile(name, bytes(content))

    def _table(self):
        """A published table, with a cell or two that no table has."""
        lines = self.random.choice(sorted(TABLES.glob("*.csv"))).read_text(encoding="utf-8").splitlines()
        for _ in range(3):
            at = self.random.randrange(len(lines))
            cells = lines[at].split(",")
            cells[self.random.randrange(len(cells))] = self.random.choice(TEXTS)
            lines[at] = self.random.choice((",", ";", "\t")).join(cells)
        return "\n".join(lines).encode("utf-8", "replace")

    def _sheet(self):
        written = io.BytesIO()
        with zipfile.ZipFile(written, "w") as archive:
            archive.writestr("[Content_Types].xml", b"<Types/>")
            archive.writestr(
                "xl/workbook.xml", self.random.choice((b"", b"<workbook/>", b"<!DOCTYPE a [<!ENTITY b 'c'>]>"))
            )
        return written.getvalue()

    def _photo(self):
        return PHOTO

    def _noise(self):
        return self.random.randbytes(self.random.choice((0, 1, 100, 20_000)))

    def _bomb(self):
        return BOMB

    def judged(self, name, data, ask):
        """Asked inside a transaction that is taken back."""
        with nothing_kept(self.client):
            writes = Writes()
            begun = time.process_time()
            with connection.execute_wrapper(writes):
                answer = ask()
            seconds = time.process_time() - begun
            self.slowest = max(self.slowest, (seconds, str(name)))
            if answer.status_code >= 500:
                self.note(name, data, f"answered {answer.status_code}")
                connection.needs_rollback = False
                return
            if seconds > LONGEST:
                self.note(name, data, f"took {seconds:.1f} s")
            if not writes.seen:
                return
            if (answer.status_code == 422 or faulty(answer)) and rows_kept() != self.rows:
                self.note(name, data, "was refused, and kept something all the same")
            try:
                connection.check_constraints()
            except IntegrityError as error:
                self.note(name, data, f"left a row that points nowhere: {error}")

    def note(self, name, data, words):
        self.errors.append((name, words, {key: str(value)[:80] for key, value in data.items()}))


class Writes:
    """Whether anything was written, as far as the statements say."""

    seen = False

    def __call__(self, execute, sql, params, many, context):
        self.seen = self.seen or sql.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE"))
        return execute(sql, params, many, context)


def faulty(answer):
    form = answer.context.get("form") if answer.context else None
    return answer.status_code == 200 and bool(getattr(form, "is_bound", False) and form.errors)


def rows_kept():
    """How many rows each kind has, but for what is noted of whoever asks."""
    kinds = [model for model in apps.get_models() if model._meta.app_label in ("finishing", "projects")]
    return {model: model._default_manager.count() for model in kinds if model not in (AuditEntry, FailedSignIn)}
