"""The states of many pieces, as they are kept beside them: no log is read where the kept one holds."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import Any
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
    racks: dict[tuple[UUID, UUID, UUID], list[Piece]] = defaultdict(list)
    for piece in pieces:  # whatever is looked up for each of a thousand pieces is a part of a page's time
        own = vars(piece)
        racks[own["part_id"], own["place_id"], own["project_id"]].append(piece)
    workshops = {rack[0].workshop_id for rack in racks.values()}
    where = {
        place.pk: place for place in places or Place.objects.filter(workshop__in=workshops).select_related("workshop")
    }
    parts = (
        Part.objects.select_related("design", "system", "lettering_coating")
        .prefetch_related(*SHEETS, *also)
        .in_bulk({part for part, _, _ in racks})
    )
    projects = Project._base_manager.in_bulk({project for _, _, project in racks})
    basis = {pk: rests_on(part) for pk, part in parts.items()}
    holding: list[dict[str, Any]] = []
    others: list[dict[str, Any]] = []
    for (part, place, project), rack in racks.items():
        stands_in = where[place]
        shared = {"part": parts[part], "project": projects[project], "place": stands_in, "workshop": stands_in.workshop}
        for piece in rack:  # as a prefetch puts it there
            own = vars(piece)
            own["_state"].fields_cache |= shared
            (holding if own["kept_rests_on"] == basis[part] else others).append(own)
    states = _read_back({own["kept_said"] for own in holding}, parts.values(), where, workshops)
    for own in holding:
        own["state"], own["last_entry_at"] = states[own["kept_said"]], own["kept_holds_from"]
    logs = Piece.objects.with_entries().in_bulk([own["id"] for own in others])
    for own in others:
        own["state"], own["last_entry_at"] = logs[own["id"]].state, logs[own["id"]].last_entry_at
    return pieces


def _read_back(
    texts: Iterable[str], parts: Iterable[Part], places: dict[UUID, Place], workshops: set[UUID]
) -> dict[str, PieceState]:
    """Each text as a state. Layers of a system that is no longer the part's are looked for only where one is named."""
    named = _named(parts, places)
    try:
        return {said: read_back(said, named) for said in texts}
    except KeyError:
        layers = Layer.objects.filter(workshop__in=workshops)
        coatings = Coating.objects.filter(workshop__in=workshops).prefetch_related("drying_points")
        others = {layer.pk: layer for layer in layers.prefetch_related("coating__drying_points", "additives")}
        tins = {coating.pk: coating for coating in coatings}
        named = Named({**others, **named.layers}, {**tins, **named.coatings}, places)
        return {said: read_back(said, named) for said in texts}


def _named(parts: Iterable[Part], places: dict[UUID, Place]) -> Named:
    """What the systems of these parts name."""
    parts = list(parts)
    layers = {layer.pk: layer for part in parts if part.system for layer in part.system.layers.all()}
    coatings = {layer.coating.pk: layer.coating for layer in layers.values() if layer.coating}
    letters = {part.lettering_coating.pk: part.lettering_coating for part in parts if part.lettering_coating}
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
