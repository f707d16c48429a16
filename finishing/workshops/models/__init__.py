from finishing.workshops.models.sign_ins import FailedSignIn
from finishing.workshops.models.workshops import DayOff, Invitation, Membership, Place, User, Workshop

__all__ = [
    "DayOff",
    "FailedSignIn",
    "Invitation",
    "Membership",
    "Place",
    "User",
    "Workshop",
]
