"""The states of many pieces, as they are kept beside them: no log is read where the kept one holds."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from uuid import UUID

from django.db.models import Count

from finishing.coatings.models import Coating, Layer
from finishing.workshops.models import Place, Workshop
from projects.record.models.designs import Part
from projects.record.models.kept_states import KeptState, Named, read_back, rests_on, written
from projects.record.models.pieces import Piece, PieceQuerySet
from projects.record.models.projects import Project
from projects.record.models.stages import PieceState, Stage

# Of a part, what its pieces' states and what lies ahead of them rest on
SHEETS = (
    *("system__layers__coating__drying_points", "system__layers__additives"),
    "lettering_coating__drying_points",
)


def derived(piece: Piece) -> KeptState:
    """What is to be kept of a piece read with_log(); not saved."""
    return KeptState(
        workshop_id=piece.workshop_id,
        piece=piece,
        stage=piece.state.stage,
        next=piece.state.next,
        holds_from=piece.last_entry_at,
        counts_from=piece.state.counts_from,
        rests_on=rests_on(piece.part),
        said=written(piece.state),
    )


def read_states(rows: PieceQuerySet, *also: str, places: Sequence[Place] = ()) -> list[Piece]:
    """These pieces, each with its state; pieces that are alike share one. The number of queries is the same for all.

    also: what else is to be read with their parts, as prefetch_related names it; `places`: all of their workshop, each
    with it, where somebody has read them already. Only where a piece's state is not kept, or
    rests on a system or letters that have changed since, its log is read.
    """
    pieces = list(rows.with_kept_state())
    where = _put_what_they_share(pieces, places, also)
    basis = {part.pk: rests_on(part) for part in {piece.part_id: piece.part for piece in pieces}.values()}
    kept = [(piece, vars(piece)) for piece in pieces]
    holding = [(piece, own) for piece, own in kept if own["kept_rests_on"] == basis[piece.part_id]]
    states = _read_back({own["kept_said"] for _, own in holding}, pieces, where)
    for piece, own in holding:
        piece.state, piece.last_entry_at = states[own["kept_said"]], own["kept_holds_from"]
    others = [piece for piece, own in kept if own["kept_rests_on"] != basis[piece.part_id]]
    logs = Piece.objects.with_entries().in_bulk([piece.pk for piece in others])
    for piece in others:
        piece.state, piece.last_entry_at = logs[piece.pk].state, logs[piece.pk].last_entry_at
    return pieces


def _put_what_they_share(pieces: list[Piece], read: Sequence[Place], also: Sequence[str]) -> dict[UUID, Place]:
    """Give each piece its project, its part, the place where it stood first and its workshop, each read once; all
    places of the workshop."""
    workshops = {piece.workshop_id for piece in pieces}
    places = {
        place.pk: place for place in read or Place.objects.filter(workshop__in=workshops).select_related("workshop")
    }
    projects = Project._base_manager.in_bulk({piece.project_id for piece in pieces})
    parts = (
        Part.objects.select_related("design", "system", "lettering_coating")
        .prefetch_related(*SHEETS, *also)
        .in_bulk({piece.part_id for piece in pieces})
    )
    by_place = {pk: {"place": place, "workshop": place.workshop} for pk, place in places.items()}
    by_part = {pk: {"part": part} for pk, part in parts.items()}
    by_project = {pk: {"project": project} for pk, project in projects.items()}
    for piece in pieces:  # as a prefetch does it: a thousand times what it looks after is a third of a page
        own = vars(piece)
        own["_state"].fields_cache |= (
            by_place[own["place_id"]] | by_part[own["part_id"]] | by_project[own["project_id"]]
        )
    return places


def _read_back(texts: Iterable[str], pieces: list[Piece], places: dict[UUID, Place]) -> dict[str, PieceState]:
    """Each text as a state. Layers of a system that is no longer the part's are looked for only where one is named."""
    named = _named((piece.part for piece in pieces), places)
    try:
        return {said: read_back(said, named) for said in texts}
    except KeyError:
        workshops = {piece.workshop_id for piece in pieces}
        layers = Layer.objects.filter(workshop__in=workshops)
        coatings = Coating.objects.filter(workshop__in=workshops).prefetch_related("drying_points")
        others = {layer.pk: layer for layer in layers.prefetch_related("coating__drying_points", "additives")}
        tins = {coating.pk: coating for coating in coatings}
        named = Named({**others, **named.layers}, {**tins, **named.coatings}, places)
        return {said: read_back(said, named) for said in texts}


def _named(parts: Iterable[Part], places: dict[UUID, Place]) -> Named:
    """What the systems of these parts name."""
    parts_once = {part.pk: part for part in parts}.values()
    layers = {layer.pk: layer for part in parts_once if part.system for layer in part.system.layers.all()}
    coatings = {layer.coating.pk: layer.coating for layer in layers.values() if layer.coating}
    letters = {part.lettering_coating.pk: part.lettering_coating for part in parts_once if part.lettering_coating}
    return Named(layers, letters | coatings, places)


def stages_of_projects(workshop: Workshop) -> dict[UUID, Counter[Stage]]:
    """Of each open project how many of its pieces are at each stage."""
    rows = Piece.objects.of(workshop).filter(project__closed=False)
    parts = Part.objects.filter(pieces__in=rows).distinct().prefetch_related("system__layers__coating")
    basis = {part.pk: rests_on(part) for part in parts}
    counted = rows.order_by().values_list("project", "part", "kept__stage", "kept__rests_on").annotate(many=Count("pk"))
    stages: dict[UUID, Counter[Stage]] = defaultdict(Counter)
    for project, part, stage, rested_on, many in counted:
        if rested_on == basis[part]:
            stages[project][Stage(stage)] += many
        else:
            states = (piece.state for piece in read_states(rows.filter(project=project, part=part)))
            stages[project] = stages[project] + Counter(state.stage for state in states)
    return stages
