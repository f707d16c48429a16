"""Blasting media are kept and copied. What a workshop changes is marked with where it took the value from."""

import uuid

from django.db import transaction

from finishing.media.models import Medium


@transaction.atomic
def save_medium(medium: Medium, *, changed: list[str], source: str) -> Medium:
    """Each value that changed takes `source` as its basis; the two ends of a range share one."""
    names = {name.removesuffix("_low").removesuffix("_high") for name in changed}
    medium.basis = {**medium.basis, **dict.fromkeys(sorted(names), source)}
    medium.save()
    return medium


@transaction.atomic
def copy_medium(medium: Medium, *, pk: uuid.UUID) -> Medium:
    """One's own bag, begun from another sheet; asked twice with the same id it is made once."""
    made = Medium.objects.filter(pk=pk).first()
    if made and made.workshop_id == medium.workshop_id:
        return made
    values = {field.name: getattr(medium, field.name) for field in Medium._meta.concrete_fields}
    own = {"id": uuid.uuid4() if made else pk, "from_library": False, "library_key": "", "retired": False}
    copied = Medium(**values | own | {"name": f"{medium.name[:90]} (copy)"})
    copied.save()
    return copied
