"""Paint bought for a project is taken back."""

from datetime import date

from finishing.workshops.models import User
from projects.record.models import PaintReceipt


def void_paint(receipt: PaintReceipt, *, by: User, reason: str, day: date) -> PaintReceipt:
    """By an entry of its own, which says why; asked for twice it is one."""
    own = {name: getattr(receipt, name) for name in ("workshop_id", "project_id", "coating_id", "litres", "currency")}
    voided, _ = PaintReceipt.objects.get_or_create(
        voids=receipt, defaults={**own, "price": receipt.price, "bought_on": day, "note": reason, "by": by}
    )
    return voided
