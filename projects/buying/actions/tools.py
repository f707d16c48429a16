"""Patterns and jigs are repaired."""

from django.db import transaction

from projects.record.models import Tool, ToolRepair


@transaction.atomic
def note_repair(repair: ToolRepair) -> ToolRepair:
    """What was repaired is in use again."""
    repair.save()
    Tool.objects.filter(pk=repair.tool_id, state=Tool.State.WORN_OUT).update(state=Tool.State.IN_USE)
    return repair
