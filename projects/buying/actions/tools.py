"""What is done with patterns and jigs."""

from django.db import transaction

from projects.record.models import Tool, ToolRepair


def keep_tool(tool: Tool, drawing_name: str = "") -> Tool:
    """`drawing_name`: what a person calls the file that came with it; empty, where none came."""
    tool.drawing_name = drawing_name or tool.drawing_name
    tool.save()
    return tool


@transaction.atomic
def note_repair(repair: ToolRepair) -> ToolRepair:
    """What was repaired is in use again."""
    repair.save()
    Tool.objects.filter(pk=repair.tool_id, state=Tool.State.WORN_OUT).update(state=Tool.State.IN_USE)
    return repair
