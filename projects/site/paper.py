"""A page of the site on paper: its own text laid out as a PDF, so that both say the same from the same sums.

What a browser would not print is left out (`LEFT_OUT`). Of a `details` its summary is printed, and what it holds only
where it stands in an element of the class `on-paper`.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from io import BytesIO
from itertools import groupby

import font_roboto
import segno
from fontTools.ttLib import TTFont
from fpdf import FPDF, FontFace
from fpdf.enums import Align, TableBordersLayout, VAlign, XPos, YPos
from fpdf.table import Row

MARGIN = 14.0  # mm
WIDE_FROM = 8  # columns of a table from which the paper lies on its side
BODY, SMALL, IN_TABLE = 10.0, 8.0, 8.5  # pt
HEADINGS = {"h1": 18.0, "h2": 13.0, "h3": 11.0, "h4": 10.0}  # pt
IN_CELL = 5.0  # mm that a cell is wider than its text
LINE = 0.5  # mm of line height by pt
PALE, RULE = (95, 98, 102), (190, 190, 186)
PICTURE_WIDTH, PICTURE_HEIGHT = 86.0, 64.0  # mm
PINNED_HEIGHT, PIN_RADIUS = 120.0, 2.2  # mm: of a photo with numbered spots at the most, of a spot at the least
IN_OTHER_WORDS = {"→": "to", "⇄": "to and from", "✓": "yes", "▾": "", "●": "•", "○": "o", "ᵢ": "i"}

VOID = {"br", "img", "input", "link", "meta", "hr", "source", "wbr"}
LEFT_OUT_TAGS = {"script", "style", "svg", "form", "nav", "button", "select", "textarea", "input", "progress", "canvas"}
LEFT_OUT = {
    "no-print",
    "actions",
    "crumbs",
    "scripted-only",
    "unscripted-only",
    "hidden-words",
    "how",
    "messages",
    "legend",
    "term-meaning",
}
OWN_LINE = {"quiet", "quiet-line"}  # spans that the page sets on a line of their own
AFTER_A_DOT = {"under"}  # spans that the page sets below what they belong to
BLOCKS = {"p", "ul", "ol", "li", "dl", "table", "section", "div", "figure", "details", "article", "aside", *HEADINGS}


@dataclass(frozen=True)
class PaperHead:
    """What stands at the top of every sheet."""

    about: str
    workshop: str
    day: str


@dataclass
class Element:
    """An element of a page, with text and elements inside it."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    children: "list[Element | str]" = field(default_factory=list)

    @property
    def classes(self) -> set[str]:
        return set(self.attributes.get("class", "").split())

    @property
    def printed(self) -> bool:
        word = self.tag == "button" and "term" in self.classes  # a word of a sentence, pressed for what it means
        return word or (self.tag not in LEFT_OUT_TAGS and not self.classes & LEFT_OUT)

    @property
    def elements(self) -> "list[Element]":
        return [child for child in self.children if isinstance(child, Element) and child.printed]

    def all(self, tag: str) -> "Iterator[Element]":
        """Those of this tag that are printed, at any depth."""
        for child in self.elements:
            if child.tag == tag:
                yield child
            else:
                yield from child.all(tag)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = Element("page")
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(made)
        if tag not in VOID:
            self.open.append(made)

    def handle_endtag(self, tag: str) -> None:
        if tag in (element.tag for element in self.open[1:]):
            while self.open.pop().tag != tag:
                pass

    def handle_data(self, data: str) -> None:
        self.open[-1].children.append(data)


def drawn_inside(element: Element, tag: str) -> Iterator[Element]:
    """Those of this tag at any depth, of a drawing too, which is not printed as text."""
    for child in element.children:
        if isinstance(child, Element):
            if child.tag == tag:
                yield child
            yield from drawn_inside(child, tag)


def read_page(html: str) -> Element:
    """The main part of a page; the page itself where it has none."""
    reader = _Reader()
    reader.feed(html)
    return next(reader.root.all("main"), reader.root)


def picture_addresses(main: Element) -> list[str]:
    """Where the pictures that it prints are to be had."""
    return list(dict.fromkeys(image.attributes.get("src", "") for image in main.all("img")))


@lru_cache(maxsize=1)
def _printable() -> frozenset[int]:
    return frozenset(TTFont(font_roboto.Roboto).getBestCmap())


class Paper(FPDF):
    """Sheets with a head, a foot and a font that holds Latin, Greek and Cyrillic letters.

    `not_printed` are the characters that were asked for and that the font does not hold.
    """

    def __init__(self, head: PaperHead | None, orientation: str = "portrait", format: str | tuple[float, float] = "A4"):
        super().__init__(orientation=orientation, unit="mm", format=format)
        self.head, self.not_printed = head, set[str]()
        self.add_font("text", "", font_roboto.Roboto)
        self.add_font("text", "B", font_roboto.RobotoBold)
        self.set_margins(MARGIN, MARGIN if head is None else 22, MARGIN)
        self.set_auto_page_break(head is not None, 17)
        self.set_font("text", size=BODY)
        if head:
            self.set_title(self.words(head.about))
            self.set_author(self.words(head.workshop))

    def header(self) -> None:
        if self.head is None:
            return
        with self.local_context():
            self.set_font("text", size=SMALL)
            self.set_text_color(*PALE)
            self.set_xy(MARGIN, 9)
            width = self.w - 2 * MARGIN
            left = " · ".join(part for part in (self.head.workshop, self.head.about) if part)
            self.cell(width * 0.78, 4, self.fitted(left, width * 0.78))
            self.cell(width * 0.22, 4, self.words(self.head.day), align=Align.R)
            self.set_draw_color(*RULE)
            self.line(MARGIN, 14.5, self.w - MARGIN, 14.5)
        self.set_xy(self.l_margin, self.t_margin)

    def footer(self) -> None:
        if self.head is None:
            return
        with self.local_context():
            self.set_font("text", size=SMALL)
            self.set_text_color(*PALE)
            self.set_xy(MARGIN, -12)
            self.cell(self.w - 2 * MARGIN, 4, f"page {self.page_no()} of {{nb}}", align=Align.C)

    def words(self, text: str) -> str:
        """As this font can print them: letters without an accent that it lacks, and “?” for the rest."""
        return "".join(self._printed(sign) for sign in text)

    def _printed(self, sign: str) -> str:
        if sign == "\n" or ord(sign) in _printable():
            return sign
        if sign in IN_OTHER_WORDS:
            return IN_OTHER_WORDS[sign]
        plain = "".join(part for part in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(part))
        if plain and all(ord(part) in _printable() for part in plain):
            return plain
        if unicodedata.category(sign)[0] not in "MC":
            self.not_printed.add(sign)
            return "?"
        return ""

    def code(self, text: str, x: float, y: float, side: float) -> None:
        """A QR code (ISO/IEC 18004) of this side, its quiet zone of four modules within; a quarter may be soiled."""
        matrix = segno.make(text, error="q", micro=False).matrix
        module = side / (len(matrix) + 8)
        self.set_fill_color(0, 0, 0)
        for row, modules in enumerate(matrix):
            begin = 0
            for dark, alike in groupby(modules):
                many = len(list(alike))
                if dark:  # a hair wider than it is, so that no light line runs between two rows
                    at = x + (begin + 4) * module, y + (row + 4) * module
                    self.rect(*at, many * module + 0.01, module + 0.01, style="F")
                begin += many

    def fitted(self, text: str, width: float) -> str:
        """As much of the words as fits on a line of this width."""
        words = self.words(text)
        if self.get_string_width(words) <= width:
            return words
        while words and self.get_string_width(f"{words}…") > width:
            words = words[:-1]
        return f"{words.rstrip()}…"


@dataclass(frozen=True)
class TextRun:
    text: str
    bold: bool = False
    pale: bool = False


def runs_of(element: Element, bold: bool = False, pale: bool = False) -> Iterator[TextRun]:
    """The text of an element that holds no block, in stretches of one look."""
    for child in element.children:
        if isinstance(child, str):
            yield TextRun(re.sub(r"\s+", " ", child.replace("\xa0", "\N{NO-BREAK SPACE}")), bold, pale)
        elif child.tag == "br":
            yield TextRun("\n", bold, pale)
        elif child.printed:
            if child.classes & OWN_LINE or child.tag in BLOCKS:
                yield TextRun("\n", bold, pale)
            if child.classes & AFTER_A_DOT:
                yield TextRun(" · ", bold, pale)
            strong = bold or child.tag in ("b", "strong", "th")
            yield from runs_of(child, strong, pale or bool(child.classes & {"pale", "basis", "help"}))


def text_of(element: Element) -> str:
    """The same in one piece, without blanks at its lines' ends."""
    text = "".join(run.text for run in runs_of(element))
    text = re.sub(r" +([,;.:)])", r"\1", re.sub(r" {2,}", " ", text))
    return re.sub(r"\s*\n\s*", "\n", text).strip()


def is_bold(cell: Element) -> bool:
    """All that it says is bold."""
    said = [run for run in runs_of(cell, cell.tag == "th") if run.text.strip()]
    return bool(said) and all(run.bold for run in said)


def heading_of(main: Element) -> str:
    """The page's own name, on one line."""
    return " ".join(text_of(next(main.all("h1"), main)).split())


def page_pdf(main: Element, head: PaperHead, pictures: Mapping[str, bytes]) -> bytes:
    """A page as a PDF. pictures: JPEG by the address that the page has for it; what is not there is left out."""
    widest = max((len(cells_of(row)) for table in main.all("table") for row in table.all("tr")), default=0)
    sheets = PagePaper(head, pictures, "landscape" if widest >= WIDE_FROM else "portrait")
    sheets.add_page()
    sheets.blocks(main)
    sheets.say_what_is_missing()
    return bytes(sheets.output())


def cells_of(row: Element) -> list[Element]:
    return [cell for cell in row.elements if cell.tag in ("td", "th")]


class PagePaper(Paper):
    """Paper onto which a page's elements are laid out one below the other."""

    def __init__(self, head: PaperHead, pictures: Mapping[str, bytes], orientation: str):
        super().__init__(head, orientation)
        self.pictures = pictures

    def blocks(self, element: Element, whole: bool = False) -> None:
        """whole: what its details hold is printed too."""
        whole = whole or "on-paper" in element.classes
        loose: list[Element | str] = []  # text and spans between two blocks
        for place, child in enumerate(element.children):
            if isinstance(child, str) or (child.tag not in BLOCKS and child.tag != "img"):
                loose.append(child)
            elif child.printed:
                self._paragraph(Element("p", {}, loose))
                loose = []
                if child.tag in HEADINGS:
                    self._heading(child, self._least_height(element.children[place + 1 :]))
                else:
                    self._block(child, whole)
        self._paragraph(Element("p", {}, loose))

    def _block(self, element: Element, whole: bool) -> None:
        if "pinned" in element.classes:
            self._pinned(element)
        elif "photos" in element.classes:
            self._pictures(list(element.all("img")), captions=list(element.all("figcaption")))
        elif element.tag in ("ul", "ol"):
            self._list(element, whole)
        elif element.tag == "dl":
            self._facts(element)
        elif element.tag == "table":
            self._table(element)
        elif element.tag == "img":
            self._pictures([element])
        elif element.tag == "details":
            self._details(element, whole)
        elif "signed" in element.classes:
            self._to_be_signed(element)
        elif element.classes & {"caution", "verdict", "notice", "wrong"}:
            self._beside_a_rule(element, whole)
        elif element.tag == "p" and not list(element.all("img")):
            self._paragraph(element)
        else:
            self.blocks(element, whole)

    def _least_height(self, after: "list[Element | str]") -> float:
        """In mm: what must stand on the same sheet as the heading above it."""
        first = next((one for one in after if isinstance(one, Element) and one.printed), None)
        return PICTURE_HEIGHT + 6 if first and "photos" in first.classes else 10.0

    def _heading(self, element: Element, below: float) -> None:
        """below: mm of what follows that are on the same sheet as the heading."""
        if not text_of(element):
            return
        size = HEADINGS[element.tag]
        if self.will_page_break(size * LINE + 4 + below):
            self.add_page()
        self.ln(1 if element.tag == "h1" else 3)
        self._write(runs_of(element, bold=True), size)
        self.ln(1.5)

    def _paragraph(self, element: Element, size: float = BODY) -> None:
        runs = list(runs_of(element))
        if "".join(run.text for run in runs).strip():
            small = SMALL + 0.5 if element.classes & {"small", "help", "source"} else size
            self._write(runs, small)
            self.ln(1.5)

    def _write(self, runs: Iterable[TextRun], size: float) -> None:
        """Stretches one behind the other, broken at the right margin; ends on a line of its own."""
        written = ""
        for (bold, pale), alike in groupby(runs, key=lambda run: (run.bold, run.pale)):  # a word is not cut in two
            text = re.sub(r"(\s) +", r"\1", "".join(run.text for run in alike))
            text = text.lstrip(" ") if not written or written.endswith(("\n", " ")) else text
            text = text.lstrip("\n") if not written else text
            if not text:
                continue
            self.set_font("text", "B" if bold else "", size)
            self.set_text_color(*(PALE if pale else (0, 0, 0)))
            self.write(size * LINE, self.words(text))
            written += text
        self.set_text_color(0, 0, 0)
        self.set_font("text", "", BODY)
        self.ln(size * LINE)

    def _list(self, element: Element, whole: bool) -> None:
        for number, item in enumerate((one for one in element.elements if one.tag == "li"), start=1):
            if not text_of(item) and not list(item.all("img")):
                continue
            if self.will_page_break(BODY * LINE):
                self.add_page()
            self.set_font("text", "", BODY)
            self.cell(6, BODY * LINE, f"{number}." if element.tag == "ol" else "•", align=Align.R)
            with self._indented(8):
                self.blocks(item, whole)
        self.ln(1)

    @contextmanager
    def _indented(self, by: float) -> Iterator[None]:
        self.set_left_margin(self.l_margin + by)
        self.set_x(self.l_margin)
        try:
            yield
        finally:
            self.set_left_margin(self.l_margin - by)
            self.set_x(self.l_margin)

    def _facts(self, element: Element) -> None:
        """A list of terms and what holds for them, in two columns."""
        width = min(58.0, self.epw * 0.35)
        for term, value in zip(element.all("dt"), element.all("dd"), strict=False):
            if self.will_page_break(2 * BODY * LINE):
                self.add_page()
            page, top = self.page_no(), self.get_y()
            self.set_text_color(*PALE)
            self.multi_cell(width - 2, BODY * LINE, self.words(text_of(term)), align=Align.L, new_x=XPos.LMARGIN)
            below = self.get_y()
            self.set_text_color(0, 0, 0)
            with self._indented(width):
                self.set_y(top)
                self._write(runs_of(value), BODY)
            if self.page_no() == page:
                self.set_y(max(below, self.get_y()))
            self.ln(0.6)
        self.ln(1.5)

    def _table(self, element: Element) -> None:
        rows = [(row, cells_of(row)) for row in element.all("tr")]
        rows = [(row, cells) for row, cells in rows if cells]
        if not rows:
            return
        caption = next(element.all("caption"), None)
        if caption:
            self._paragraph(caption, SMALL)
        headed = all(cell.tag == "th" for cell in rows[0][1])
        widths = self._widths([cells for _, cells in rows])
        self.set_font("text", "", IN_TABLE)
        with self.table(
            col_widths=widths,
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            first_row_as_headings=headed,
            headings_style=FontFace(emphasis="BOLD"),
            line_height=IN_TABLE * LINE,
            align=Align.L,
            text_align=Align.L,
            v_align=VAlign.T,
            padding=(0.9, 1.2),
        ) as table:
            for _, cells in rows:
                row = table.row(min_height=11 if any("blank" in cell.classes for cell in cells) else None)
                for cell in cells:
                    self._cell(row, cell)
        self.set_font("text", "", BODY)
        self.ln(3)

    def _cell(self, row: Row, cell: Element) -> None:
        span = int(cell.attributes.get("colspan", "1") or 1)
        image = next(
            (self.pictures[src] for one in cell.all("img") if (src := one.attributes.get("src", "")) in self.pictures),
            None,
        )
        if image is not None:
            row.cell(img=BytesIO(image), img_fill_width=True, colspan=span)
            return
        row.cell(
            self.words(text_of(cell)),
            align=Align.R if "number" in cell.classes else Align.L,
            style=FontFace(emphasis="BOLD") if is_bold(cell) else None,
            colspan=span,
        )

    def _widths(self, rows: list[list[Element]]) -> tuple[float, ...]:
        """Of the columns, so that no word is broken where that can be, and long text gets what is left."""
        spans = [sum(int(cell.attributes.get("colspan", "1") or 1) for cell in cells) for cells in rows]
        many = max(spans)
        least, most = [8.0] * many, [8.0] * many
        self.set_font("text", "B", IN_TABLE)
        for cells in rows:
            if len(cells) != many:
                continue
            for place, cell in enumerate(cells):
                text = self.words(text_of(cell))
                words = [self.get_string_width(word) + IN_CELL for word in text.split() if word.strip()]
                lines = [self.get_string_width(line) + IN_CELL for line in text.split("\n")]
                least[place] = max(least[place], min(40, max(words, default=0)), 16 if list(cell.all("img")) else 0)
                most[place] = max(most[place], *lines, least[place])
        room = self.epw - sum(least)
        if room <= 0:
            return tuple(least)
        wanted = [min(high, 90) - low if high > low else 0.0 for low, high in zip(least, most, strict=True)]
        share = min(1.0, room / sum(wanted)) if sum(wanted) else 0.0
        widths = [low + more * share for low, more in zip(least, wanted, strict=True)]
        return tuple(width * self.epw / sum(widths) for width in widths)

    def _pictures(self, images: list[Element], captions: "list[Element] | None" = None) -> None:
        """Two beside each other, each with what stands below it."""
        there = [
            (self.pictures[src], text_of(captions[place]) if captions and place < len(captions) else "")
            for place, image in enumerate(images)
            if (src := image.attributes.get("src", "")) in self.pictures
        ]
        for first in range(0, len(there), 2):
            pair = there[first : first + 2]
            height = PICTURE_HEIGHT + 6
            if self.will_page_break(height):
                self.add_page()
            top, left = self.get_y(), self.l_margin
            for place, (image, caption) in enumerate(pair):
                x = left + place * (PICTURE_WIDTH + 6)
                self.image(BytesIO(image), x, top, PICTURE_WIDTH, PICTURE_HEIGHT, keep_aspect_ratio=True)
                self.set_xy(x, top + PICTURE_HEIGHT + 0.5)
                self.set_font("text", "", SMALL)
                self.multi_cell(
                    PICTURE_WIDTH, SMALL * LINE, self.words(caption), align=Align.L, max_line_height=SMALL * LINE
                )
            self.set_xy(left, top + height + 1)
        self.set_font("text", "", BODY)

    def _pinned(self, element: Element) -> None:
        """A photo over the width of the sheet with its numbered spots, as the page draws them on it."""
        source = next((image.attributes.get("src", "") for image in element.all("img")), "")
        drawing = next(drawn_inside(element, "svg"), None)
        if source not in self.pictures or drawing is None:
            return
        *_, wide, high = (float(number) for number in drawing.attributes["viewbox"].split())
        scale = min(self.epw / wide, PINNED_HEIGHT / high)
        if self.will_page_break(high * scale + 4):
            self.add_page()
        left, top = self.l_margin, self.get_y()
        self.image(BytesIO(self.pictures[source]), left, top, wide * scale, high * scale)
        for pin in drawn_inside(drawing, "g"):
            circle, number = next(drawn_inside(pin, "circle")), text_of(next(drawn_inside(pin, "text")))
            x, y = (at + float(circle.attributes[name]) * scale for at, name in ((left, "cx"), (top, "cy")))
            radius = max(PIN_RADIUS, float(circle.attributes["r"]) * scale)
            self.set_line_width(0.9 if "too-thin" in pin.classes else 0.3)
            self.set_dash_pattern(dash=0.9 if "thin" in pin.classes else 0, gap=0.5)
            self.set_fill_color(255, 255, 255)
            self.circle(x, y, radius, style="DF")
            self.set_dash_pattern()
            self.set_font("text", "B", radius / LINE * 0.9)
            self.set_xy(x - radius, y - radius)
            self.cell(2 * radius, 2 * radius, number, align=Align.C)
        self.set_line_width(0.2)
        self.set_font("text", "", BODY)
        self.set_xy(left, top + high * scale + 3)

    def _details(self, element: Element, whole: bool) -> None:
        inside = element.elements
        for child in inside:
            if child.tag == "summary":
                self._paragraph(child)
        if whole:  # and not what is folded away inside it
            with self._indented(5):
                self.blocks(Element("div", {}, [child for child in inside if child.tag != "summary"]))

    def _to_be_signed(self, element: Element) -> None:
        self.ln(9)
        for span in element.all("span"):
            self.cell(80, 5, f"{self.words(text_of(span))} {'.' * 40}", new_x=XPos.RIGHT, new_y=YPos.TOP)
        self.ln(8)

    def _beside_a_rule(self, element: Element, whole: bool) -> None:
        """What must not be overlooked: a bar stands beside it."""
        page, top = self.page_no(), self.get_y()
        inner = Element(element.tag, {}, element.children)
        with self._indented(4):
            self._paragraph(inner) if inner.tag == "p" else self.blocks(inner, whole)
        self.set_line_width(0.9)
        start = top if self.page_no() == page else self.t_margin
        self.line(self.l_margin + 1, start + 0.5, self.l_margin + 1, max(start + 1, self.get_y() - 2))
        self.set_line_width(0.2)
        self.ln(1)

    def say_what_is_missing(self) -> None:
        if self.not_printed:
            self._paragraph(
                Element("p", {"class": "small"}, ["“?” stands for letters that this paper's font does not hold."])
            )
