"""Plans by hand, and what a person reads of a page."""

import re
from datetime import UTC, datetime, timedelta

from tests import factories

NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # nine o'clock on a Tuesday in London


def plan_of(run, state, **given):
    return factories.PlanFactory(run=run, state=state, made_at=NINE - timedelta(hours=1), **given)


def coat(plan, pieces, begin=NINE + timedelta(hours=1), **given):
    layer = pieces[0].part.system.layers.last()
    given = {"key": f"coat:{layer.pk}", "layer": layer, "place": pieces[0].place, "rack": "frames", **given}
    end = given.pop("end", begin + timedelta(hours=2))
    return factories.SlotFactory(
        plan=plan, pieces=pieces, begin=begin, end=end, dry_at=end + timedelta(hours=6), **given
    )


def text(answer):
    """What a person reads: no marks of the page, one blank between words."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("&nbsp;", " ").split())
