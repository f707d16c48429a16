"""The id that a "copy this" button carries, so that two taps make one copy."""

import uuid
from typing import Any


def copy_id(data: Any) -> uuid.UUID:
    """As sent, or a new one where nothing usable was sent."""
    try:
        return uuid.UUID(str(data.get("id")))
    except ValueError:
        return uuid.uuid4()
