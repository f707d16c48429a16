"""Whether a step was done inside the sheet: what conditions and time say, in the words that the log keeps."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from finishing.air.models import Forecast
from finishing.coatings.models import Coating, FlashRust, Layer
from finishing.science.air import dew_point
from finishing.science.windows import Gates
from finishing.site.fields import METRIC, convert, printed_unit, shown_unit, tidy
from projects.record.models.pieces import Piece
from projects.record.models.stages import Stage
from projects.record.models.steps import Step

from .outlook import Outlook

Kind, Word = Step.Kind, Step.Verdict
JUDGED = (Kind.BLASTED, Kind.CAME_CLEAN, Kind.DRIED, Kind.COATED, Kind.LETTERED, Kind.TOUCHED_UP)


@dataclass(frozen=True)
class Conditions:
    """Air °C, humidity % and metal °C as somebody had them; None where nobody had."""

    air: float | None
    humidity: float | None
    metal: float | None

    @property
    def missing(self) -> list[str]:
        names = {"air": self.air, "humidity": self.humidity, "metal": self.metal}
        return [name for name, value in names.items() if value is None]

    @property
    def dew_point(self) -> float | None:
        if self.air is None or self.humidity is None:
            return None
        return float(dew_point.__wrapped__(self.air, self.humidity / 100))


@dataclass(frozen=True)
class PieceVerdict:
    """One piece's verdict on one entry: a word first, then what is outside or not checked."""

    piece: Piece
    word: str
    outside: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()
    impossible: str = ""
    layer: Layer | None = None
    coating: Coating | None = None
    forecast: Forecast | None = None

    @property
    def words(self) -> str:
        return "; ".join((*self.outside, *self.unchecked)) or "as the sheet asks"

    @property
    def facts(self) -> dict[str, Any]:
        """What the entry keeps of the verdict."""
        label = self.layer.label if self.layer else ""
        position = self.layer.position if self.layer else None
        kept = {"layer": self.layer, "layer_label": label, "layer_position": position, "coating": self.coating}
        return {**kept, "verdict": self.word, "outside": "; ".join(self.outside)[:300]}


def judge(
    outlook: Outlook,
    kind: str,
    happened_at: datetime,
    seen: Conditions,
    chosen_layer: Layer | None = None,
    flash_rust: str = "",
) -> PieceVerdict:
    """The verdict on an entry of this kind for one piece, whose outlook is that of the moment when it happened."""
    state, piece = outlook.state, outlook.piece
    layer = _layer(outlook, kind, chosen_layer)
    impossible = _impossible(outlook, kind, layer)
    if impossible or kind not in JUDGED:
        return PieceVerdict(piece, Word.NOT_CHECKED, impossible=impossible, layer=layer)
    if kind == Kind.DRIED:
        rust = _flash_rust_outside(outlook, flash_rust)
        return PieceVerdict(piece, Word.OUTSIDE if rust else Word.INSIDE, tuple(rust))
    coating = layer.coating if layer else piece.part.lettering_coating if kind == Kind.LETTERED else None
    gates = layer.gates() if layer else coating.gates() if coating else Gates()
    measures = piece.workshop.units
    outside = [*conditions_outside(seen, gates, measures), *_time_outside(outlook, kind)]
    unchecked = [*_not_checked(seen, outlook, measures), *_time_not_checked(outlook, kind)]
    word = Word.OUTSIDE if outside else Word.NOT_CHECKED if unchecked else Word.INSIDE
    forecast = outlook.forecast if state.coats or state.is_bare else None
    return PieceVerdict(piece, word, tuple(outside), tuple(unchecked), "", layer, coating, forecast)


def worst(verdicts: list[PieceVerdict]) -> str:
    """The one word for a rack."""
    if any(verdict.impossible for verdict in verdicts):
        return "cannot be logged"
    words = [verdict.word for verdict in verdicts]
    return next((word for word in (Word.OUTSIDE, Word.NOT_CHECKED, Word.INSIDE) if word in words), "")


def _layer(outlook: Outlook, kind: str, chosen: Layer | None) -> Layer | None:
    if kind == Kind.COATED:
        return chosen or outlook.state.next_coat
    if kind == Kind.PREPARED:
        return chosen or next(iter(outlook.state.preparations), None)
    return None


def _impossible(outlook: Outlook, kind: str, layer: Layer | None) -> str:
    state, part = outlook.state, outlook.piece.part
    if kind in (Kind.COATED, Kind.PREPARED):
        return _layer_impossible(outlook, kind, layer)
    if kind in (Kind.LETTERED, Kind.LETTERS_SKIPPED) and not part.has_letters:
        return "its part has no raised letters."
    if kind == Kind.LETTERED and state.stage != Stage.COATED:
        return f"it is {state.stage.label}; letters go on the last coat."
    if kind == Kind.DRIED and not (state.is_bare and state.wet_work):
        return "it was not blasted wet."
    if kind == Kind.LOOKED and not state.is_bare:
        return "it is not bare."
    if kind == Kind.WRINKLED and not state.coats:
        return "there is no coat on it."
    if kind == Kind.CLEANED_OFF and not state.preserved_since:
        return "no preserved faces are logged on it."
    return ""


def _layer_impossible(outlook: Outlook, kind: str, layer: Layer | None) -> str:
    state = outlook.state
    if not outlook.piece.part.system:
        return "its part has no coating system yet."
    if state.stage == Stage.RAW:
        return "it was not bare metal then; log the blasting first."
    if layer is None:
        return "its system asks for no further coat." if kind == Kind.COATED else "nothing is to be prepared now."
    if layer not in state.coming:
        return f"“{layer.label}” is not among its layers still to come."
    return ""


def conditions_outside(seen: Conditions, gates: Gates, measures: str = METRIC) -> list[str]:
    """What of the known conditions is outside, each in words with its limit."""
    told = []
    for name, value in (("air", seen.air), ("metal", seen.metal)):
        told += _beyond(name, value, gates.temperature_min, gates.temperature_max, "°C", measures)
    told += _beyond("humidity", seen.humidity, gates.humidity_min, gates.humidity_max, "%", measures)
    if seen.metal is not None and seen.dew_point is not None and seen.metal - seen.dew_point < gates.margin:
        above = say(seen.metal - seen.dew_point, "delta°C", measures)
        told.append(f"metal {above} above the dew point, at least {say(gates.margin, 'delta°C', measures)} asked")
    return told


def _beyond(
    name: str, value: float | None, low: float | None, high: float | None, unit: str, measures: str
) -> list[str]:
    if value is None:
        return []
    if low is not None and value < low:
        return [f"{name} {say(value, unit, measures)}, at least {say(low, unit, measures)} asked"]
    if high is not None and value > high:
        return [f"{name} {say(value, unit, measures)}, at most {say(high, unit, measures)} allowed"]
    return []


def say(value: float, unit: str, measures: str) -> str:
    """A number in the workshop's units, as the log keeps it in words."""
    shown = shown_unit(unit, measures)
    return f"{tidy(round(convert(value, unit, shown), 1), 3)} {printed_unit(shown)}"


def _time_outside(outlook: Outlook, kind: str) -> list[str]:
    if kind not in (Kind.COATED, Kind.LETTERED):
        return []
    told, window = [], outlook.recoat
    if outlook.state.preserved_since:
        told.append("bright faces still under oil or wax, which comes off before paint")
    if outlook.state.wet_until_dry:
        told.append("blasted wet, and not logged dry with its degree of flash rust")
    told += _flash_rust_outside(outlook, outlook.state.flash_rust)
    if outlook.overdue:
        told.append("bare longer than the rust budget allows")
    if window is not None and outlook.at < window.opens and not outlook.air_not_known:
        told.append("too soon over the last coat")
    if outlook.in_closed_zone:
        told.append("in the closed zone, where the last coat may lift")
    if outlook.too_late:
        told.append("too late over the last coat without rubbing it down")
    return told


def _time_not_checked(outlook: Outlook, kind: str) -> list[str]:
    if kind in (Kind.COATED, Kind.LETTERED) and outlook.in_doubt:
        return [_in_doubt(outlook)]
    if kind not in (Kind.COATED, Kind.LETTERED) or not outlook.air_not_known:
        return []
    return ["the air since the last entry is not wholly known, so the time could not be checked"]


def _in_doubt(outlook: Outlook) -> str:
    """Bare iron that was promised nothing for this moment, and what would hold while it stayed like that."""
    until, longer = outlook.coat_before_at, outlook.staying and outlook.staying.coat_before_at
    words = f"how the bare iron fared is known only until {_clock(outlook, until)}" if until else "not known"
    return f"{words}; while it stayed as it was last known, until {_clock(outlook, longer)}" if longer else words


def _clock(outlook: Outlook, when: datetime) -> str:
    """On the workshop's clock, with its day where that is another one than the entry's."""
    shop = outlook.piece.workshop
    shown = when.astimezone(shop.zone)
    return f"{shown:%H:%M}" if shown.date() == shop.day_of(outlook.now) else f"{shown:%a %H:%M}"


def _flash_rust_outside(outlook: Outlook, degree: str) -> list[str]:
    """Flash rust after wet blasting, held against what the sheet of the first coat allows."""
    coating = outlook.next_coating
    if not degree or coating is None or not FlashRust(degree).beyond(coating.flash_rust_allowed):
        return []
    return [f"flash rust {degree}, {coating.flash_rust_allowed or FlashRust.NONE} allowed by the sheet of {coating}"]


def _not_checked(seen: Conditions, outlook: Outlook, measures: str) -> list[str]:
    if not seen.missing:
        return []
    words = f"{' and '.join(seen.missing)} not measured"
    if seen.metal is None and not np.isnan(outlook.metal_now):
        words += f" (metal estimated at {say(outlook.metal_now, '°C', measures)})"
    return [words]
