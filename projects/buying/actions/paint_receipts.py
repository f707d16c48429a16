"""Paint bought for a project: noted, and taken back."""

from datetime import date
from typing import Any

from projects.record.models import PaintReceipt


def note_paint(receipt: PaintReceipt, *, by: Any) -> PaintReceipt:
    receipt.by = by
    receipt.save(force_insert=True)
    return receipt


def void_paint(receipt: PaintReceipt, *, by: Any, reason: str, day: date) -> PaintReceipt:
    """By an entry of its own, which says why; asked for twice it is one."""
    own = {name: getattr(receipt, name) for name in ("workshop_id", "project_id", "coating_id", "litres", "currency")}
    voided, _ = PaintReceipt.objects.get_or_create(
        voids=receipt, defaults={**own, "price": receipt.price, "bought_on": day, "note": reason, "by": by}
    )
    return voided
