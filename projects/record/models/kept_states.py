"""What a piece's log means, kept beside the piece: written with the entry, so that no list reads a log.

It may be thrown away and made again at any time. A row says what it rests on besides the log, and from which moment it
holds; where that has changed, whoever reads it reads the log.
"""

import json
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import datetime
from hashlib import blake2b
from typing import Any
from uuid import UUID

from django.db import models

from finishing.coatings.models import Coating, Layer
from finishing.site.models import WorkshopRow
from finishing.workshops.models import Place

from .designs import Part
from .stages import LayerDone, Next, PieceState, Stage

READING = 1  # goes up when `stages` reads a log otherwise than before

MOMENTS = ("blasted_at", "bare_since", "dry_at", "looked_at", "wet_at", "preserved_since")
UNSAID = {field.name: field.default for field in fields(PieceState) if field.default is not MISSING}


class KeptState(WorkshopRow):
    """One a piece. `said` is the whole state as text, equal for pieces that were always worked on together."""

    goes_with = "piece"

    piece = models.OneToOneField("projects.Piece", on_delete=models.CASCADE, related_name="kept")
    stage = models.CharField(max_length=10, choices=Stage)
    next = models.CharField(max_length=10, choices=Next)
    holds_from = models.DateTimeField(null=True, help_text="Its last entry happened then; before, only the log knows.")
    counts_from = models.DateTimeField(null=True, help_text="The air since then matters for what comes.")
    rests_on = models.CharField(max_length=32, help_text="The part's system and letters, in short.")
    said = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["workshop", "stage"])]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_stage_display()}"

    @property
    def facts(self) -> tuple[str, str, datetime | None, datetime | None, str, str]:
        """What it keeps, to be compared with the log."""
        return self.stage, self.next, self.holds_from, self.counts_from, self.rests_on, self.said


@dataclass(frozen=True)
class Named:
    """Rows by their ids, as a kept state names them."""

    layers: Mapping[UUID, Layer]
    coatings: Mapping[UUID, Coating]
    places: Mapping[UUID, Place]


def rests_on(part: Part) -> str:
    """What of a part, beside the log, its pieces' states rest on; short, and another one when that changes."""
    layers = part.system.layers.all() if part.system else ()
    system = [
        (layer.pk.hex, layer.position, layer.kind, layer.side, bool(layer.coating and layer.coating.is_primer))
        for layer in layers
    ]
    told = json.dumps([READING, sorted(system), part.has_letters, part.stays_bare])
    return blake2b(told.encode(), digest_size=16).hexdigest()


def written(state: PieceState) -> str:
    """A state as text: only what differs from a piece that nothing was done to; rows by their ids.

    >>> written(PieceState(turned=True))
    '{"turned": true}'
    """
    said = {name: value for name, value in vars(state).items() if name not in UNSAID or value != UNSAID[name]}
    return json.dumps(said, default=_plain, sort_keys=True)


def _plain(value: datetime | models.Model | LayerDone) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return vars(value) if isinstance(value, LayerDone) else value.pk.hex


def read_back(said: str, named: Named) -> PieceState:
    """The state again. Raises KeyError where it names a row that is not among these."""
    told = json.loads(said)
    told |= {name: _moment(told[name]) for name in MOMENTS if name in told}
    told |= {name: tuple(named.layers[UUID(pk)] for pk in told.get(name, ())) for name in ("layers_done", "coming")}
    return PieceState(
        **told
        | {
            "stage": Stage(told.get("stage", Stage.RAW)),
            "next": Next(told.get("next", Next.BLAST)),
            "coats": tuple(_layer_done(coat, named) for coat in told.get("coats", ())),
            "last_step": _layer_done(told["last_step"], named) if "last_step" in told else None,
            "moves": tuple((_moment(when), named.places[UUID(pk)]) for when, pk in told.get("moves", ())),
            "repairs": tuple(told.get("repairs", ())),
            "measured": tuple((_moment(when), celsius) for when, celsius in told.get("measured", ())),
        }
    )


def _layer_done(told: dict[str, Any], named: Named) -> LayerDone:
    layer = named.layers[UUID(told["layer"])] if told["layer"] else None
    coating = named.coatings[UUID(told["coating"])] if told["coating"] else None
    return LayerDone(_moment(told["happened_at"]), layer, coating, told["dry_film"])


def _moment(told: str) -> datetime:
    return datetime.fromisoformat(told)
