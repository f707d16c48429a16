"""A trial is thrown away with all that was logged on it, or kept for good."""

from django.core.exceptions import ValidationError
from django.db import transaction

from finishing.air.models import Reading
from projects.record.actions.log import ENTRY
from projects.record.models import Fitting, Project, Step

from .letting_go import let_go_of_project


@transaction.atomic
def throw_away(project: Project) -> None:
    """At once and for good; the air that was typed with its entries goes too, unless another entry stands for it."""
    if not project.trial:
        raise ValidationError("This project is no trial: what is logged on it stays.")
    if project.orders.exists():
        raise ValidationError("Something was ordered for it, and an order is kept. Keep the trial, or finish it.")
    if Fitting.objects.filter(piece__project=project).exclude(machine__project=project).exists():
        raise ValidationError("A piece of it stands in a machine of another project. Keep the trial, or finish it.")
    typed = Step.objects.of(project.workshop_id).filter(humidity__isnull=False)
    moments = set(typed.filter(piece__project=project).values_list("happened_at", flat=True))
    others = typed.exclude(piece__project=project).filter(happened_at__in=moments).values("happened_at")
    readings = Reading.objects.of(project.workshop_id).filter(source=ENTRY, taken_at__in=moments)
    readings.exclude(taken_at__in=others).delete()
    let_go_of_project(project)


def keep_for_good(project: Project) -> None:
    """From now on its log is as lasting as any."""
    Project.objects.filter(pk=project.pk).update(trial=False)
