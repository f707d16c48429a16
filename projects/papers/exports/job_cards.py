"""Job cards as a PDF: A5 each, or two beside each other on A4."""

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Literal
from uuid import UUID

from django.template import Context
from fpdf.enums import Align

from finishing.site.templatetags.clock import clock, clock_day
from finishing.site.templatetags.quantities import quantity
from finishing.workshops.models import Workshop
from projects.papers.domain.job_cards import JobCard
from projects.site.paper import PALE, RULE, Paper

Sheet = Literal["A5", "A4"]
WIDTH, HEIGHT, EDGE = 148.5, 210.0, 9.0  # mm, of a card and its margin
CODE, PHOTO = 32.0, 52.0  # mm
FOOT = HEIGHT - EDGE - 5
SIZES = 8.5, 7.5, 6.3  # pt, of cautions; the largest in which all fit
TO_TICK = "[   ]"


def job_cards_pdf(
    cards: Sequence[JobCard],
    workshop: Workshop,
    day: str,
    addresses: Mapping[UUID, str],
    photos: Mapping[UUID, bytes],
    sheet: Sheet = "A5",
) -> bytes:
    """addresses, photos: by the piece's id; a card without a photo has room for a sketch."""
    two = sheet == "A4"
    paper = Paper(None, "landscape" if two else "portrait", "A4" if two else "A5")
    paper.c_margin = 0.0
    for place, card in enumerate(cards):
        if place % 2 == 0 or not two:
            paper.add_page()
        left = WIDTH if two and place % 2 else 0.0
        _Card(paper, left, Context({"measures": workshop.units})).draw(
            card, workshop, day, f"{place + 1} of {len(cards)}", addresses[card.piece.pk], photos.get(card.piece.pk)
        )
        if left:
            paper.set_draw_color(*RULE)
            paper.set_dash_pattern(1, 2)
            paper.line(WIDTH, 0, WIDTH, HEIGHT)
            paper.set_dash_pattern()
    return bytes(paper.output())


class _Card:
    """One card in its corner of a sheet; y runs down as it is filled."""

    def __init__(self, paper: Paper, left: float, units: Context):
        self.paper, self.units = paper, units
        self.left, self.right, self.y = left + EDGE, left + WIDTH - EDGE, EDGE

    @property
    def width(self) -> float:
        return self.right - self.left

    def draw(self, card: JobCard, workshop: Workshop, day: str, number: str, address: str, photo: bytes | None) -> None:
        piece, part = card.piece, card.piece.part
        self._line(f"{workshop} · {piece.project} · {day}", 7.5, pale=True)
        top = self.y + 1
        self.paper.code(address, self.right - CODE, top, CODE)
        self.right -= CODE + 3
        self.y = top
        self._line(piece.mark, 26, bold=True)
        self._line(str(part), 13)
        machine = f"{piece.machine}" if piece.machine else ""
        revision = f"revision {piece.revision.label}" if piece.revision else ""
        number_of_part = f"no. {part.number}" if part.number else ""
        self._line(" · ".join(filter(None, (machine, number_of_part, revision, part.get_material_display()))), 9)
        self._line(f"stands in {piece.state.place or piece.place}", 9)
        self.right += CODE + 3
        self.y = max(self.y, top + CODE) + 2
        self._photo_and_weight(card, photo)
        self._finish(card)
        self._cautions(card)
        self.y = HEIGHT - EDGE - 3
        self._line(f"card {number}", 7, pale=True)

    def _photo_and_weight(self, card: JobCard, photo: bytes | None) -> None:
        top, height = self.y, PHOTO * 0.75
        if photo:
            self.paper.image(BytesIO(photo), self.left, top, PHOTO, height, keep_aspect_ratio=True)
        else:
            self.paper.set_draw_color(*RULE)
            self.paper.rect(self.left, top, PHOTO, height)
        left, self.left = self.left, self.left + PHOTO + 4
        mass = "weight not known" if card.piece.part.mass is None else quantity(self.units, card.piece.part.mass)
        self._line(mass, 18, bold=True)
        self._text(card.lift, 9, bold=card.heavy)
        self.y += 1.5
        self._text(f"Mask: {card.piece.part.mask or 'no face named'}", 9)
        if card.piece.old_paint:
            self._text("Old paint: taken for leaded until tested.", 9, bold=True)
        self.y += 1.5
        finished = card.piece.state.finished
        self._text("Finished." if finished else f"Next: {card.next_step}", 10.5, bold=True)
        if card.planned:
            place = f" in {card.planned.place}" if card.planned.place else ""
            day = clock_day(card.planned.begin)
            self._text(f"By the plan {clock(card.planned.begin)} ({day}){place}: {card.planned.label}", 8.5)
        self.left, self.y = left, max(self.y, top + height) + 3

    def _finish(self, card: JobCard) -> None:
        part = card.piece.part
        self._rule()
        self._line(str(part.system) if part.system else "No coating system is chosen.", 10.5, bold=True)
        if part.stays_bare:
            self._line("It stays bare: neither blasted nor painted.", 9)
        for layer, state in card.layers:
            box = f"({state})" if state else TO_TICK
            film = ""
            if layer.is_coat:
                dry, wet = quantity(self.units, layer.dry_film_used), quantity(self.units, layer.wet_film_used, 2)
                film = f": {dry} dry, comb {wet}, by {layer.get_method_display()}"
            self._line(f"{box} {layer.position}. {layer.label}{film}", 8.5, pale=bool(state))
        if part.has_letters:
            paint = f" in {part.lettering_coating}" if part.lettering_coating else ""
            self._line(f"{TO_TICK} letters “{part.lettering}”{paint}", 8.5)
        self.y += 1.5

    def _cautions(self, card: JobCard) -> None:
        """In full where there is room, else the later ones by their titles; what room is left has lines to write on."""
        if card.cautions:
            self._rule()
            closing = card.cautions[0].closing
            gists = [f"{caution.title}. {caution.gist}" for caution in card.cautions]
            whole = [size for size in SIZES if self._height([*gists, closing], size) <= FOOT - self.y]
            size = whole[0] if whole else SIZES[-1]
            titles = [caution.title.lower() for caution in card.cautions]
            for written, gist in enumerate(gists):
                left = f"Also: {', '.join(titles[written:])}."
                if not whole and self._height([gist, left, closing], size) > FOOT - self.y:
                    self._text(left, size, bold=True)
                    break
                self._text(gist, size)
            self._text(closing, size, pale=True)
        self.y += 7
        while self.y < FOOT:
            self._rule()
            self.y += 7

    def _rule(self) -> None:
        self.paper.set_draw_color(*RULE)
        self.paper.line(self.left, self.y, self.right, self.y)
        self.y += 1.5

    def _line(self, text: str, size: float, bold: bool = False, pale: bool = False) -> None:
        """One line; what is too long for it is cut short."""
        self._face(size, bold, pale)
        self.paper.set_xy(self.left, self.y)
        self.paper.cell(self.width, size * 0.45, self.paper.fitted(text, self.width - 2))
        self.y += size * 0.45 + 0.4

    def _text(self, text: str, size: float, bold: bool = False, pale: bool = False) -> None:
        self._face(size, bold, pale)
        self.paper.set_xy(self.left, self.y)
        self.paper.multi_cell(self.width, size * 0.42, self.paper.words(text), align=Align.L)
        self.y = self.paper.get_y() + 0.4

    def _height(self, texts: Sequence[str], size: float) -> float:
        self._face(size, False, False)
        height = 0.0
        for text in texts:
            words = self.paper.words(text)
            lines = self.paper.multi_cell(self.width, size * 0.42, words, align=Align.L, dry_run=True, output="LINES")
            assert isinstance(lines, list)
            height += len(lines) * size * 0.42 + 0.4
        return height

    def _face(self, size: float, bold: bool, pale: bool) -> None:
        self.paper.set_font("text", "B" if bold else "", size)
        self.paper.set_text_color(*(PALE if pale else (0, 0, 0)))
