"""Which stage of a machine's story a photo shows, and when it was taken: proposed, and a person may say otherwise."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.utils import timezone

from projects.record.models.kept_states import KeptState
from projects.record.models.photos import Chapter
from projects.record.models.pieces import Piece
from projects.record.models.projects import Machine, Project
from projects.record.models.stages import Stage
from projects.record.models.steps import Step

FIRST = datetime(1990, 1, 1)  # a camera whose clock was never set is not believed
BY_KIND = {
    Step.Kind.RECEIVED: Chapter.FOUND,
    Step.Kind.TAKEN_OFF: Chapter.APART,
    Step.Kind.TO_REPAIR: Chapter.APART,
}
BY_STAGE = {
    Stage.BLASTED: Chapter.BLASTED,
    Stage.PRIMED: Chapter.PRIMED,
    Stage.COATED: Chapter.COATED,
    Stage.LETTERED: Chapter.LETTERED,
}


def taken_at(by_camera: datetime | None, otherwise: datetime) -> datetime:
    """By the camera's clock, read on the workshop's where it names no zone; `otherwise` where that cannot be."""
    if by_camera is None:
        return otherwise
    when = by_camera if by_camera.tzinfo else timezone.make_aware(by_camera)
    sensible = timezone.make_aware(FIRST) <= when <= timezone.now() + timedelta(days=1)
    return when if sensible else otherwise


def chapters_after(steps: Sequence[Step]) -> dict[UUID, str]:
    """By the entry's id what a photo shows that is kept with it: by its kind, else by how its piece stands now."""
    pieces = [step.piece_id for step in steps]
    kept = dict(KeptState.objects.filter(piece__in=pieces).values_list("piece", "stage"))
    apart = set(Step.objects.filter(piece__in=pieces, kind=Step.Kind.TAKEN_OFF).values_list("piece", flat=True))
    chapters: dict[UUID, str] = {}
    for step in steps:
        raw = Chapter.APART if step.piece_id in apart else Chapter.FOUND
        own = BY_STAGE.get(Stage(kept.get(step.piece_id, Stage.RAW)), raw)
        repaired = step.work == Step.Work.REPAIR
        chapters[step.pk] = Chapter.REPAIRED if repaired else BY_KIND.get(Step.Kind(step.kind), own)
    return chapters


def chapter_at(piece: Piece, moment: datetime) -> Chapter:
    """How a piece read with_log() stood at a moment."""
    stage = piece.state_at(moment).stage
    off = any(step.kind == Step.Kind.TAKEN_OFF and step.happened_at <= moment for step in piece.steps.all())
    return BY_STAGE.get(stage, Chapter.APART if off else Chapter.FOUND)


def chapter_of_whole(project: Project, machine: Machine | None, moment: datetime) -> Chapter:
    """How a machine stood as a whole, or all that a project has."""
    machines = [machine] if machine else project.machines.all()
    if any(one.fittings.filter(fitted_at__lte=moment).exclude(piece=None).exists() for one in machines):
        return Chapter.TOGETHER
    begun = Step.objects.filter(piece__project=project, voided_by=None, happened_at__lte=moment)
    return Chapter.APART if begun.exclude(kind__in=(Step.Kind.RECEIVED, Step.Kind.NOTED)).exists() else Chapter.FOUND
