from finishing.workshops.models.audit import AuditEntry, SignIn
from finishing.workshops.models.one_time_codes import OneTimeCodes
from finishing.workshops.models.sign_ins import FailedSignIn
from finishing.workshops.models.workshops import DayOff, Invitation, Membership, Place, User, Workshop

__all__ = [
    "AuditEntry",
    "DayOff",
    "FailedSignIn",
    "Invitation",
    "Membership",
    "OneTimeCodes",
    "Place",
    "SignIn",
    "User",
    "Workshop",
]
