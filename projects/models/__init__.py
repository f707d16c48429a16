from .calendars import CalendarAddress
from .designs import Design, Part, Revision
from .photos import Photo
from .pieces import Piece
from .plans import Plan, PlanRun, Slot
from .projects import Follower, Machine, Project
from .steps import Step
from .visits import Visit, VisitPiece, VisitTask

__all__ = [
    "CalendarAddress",
    "Design",
    "Follower",
    "Machine",
    "Part",
    "Photo",
    "Piece",
    "Plan",
    "PlanRun",
    "Project",
    "Revision",
    "Slot",
    "Step",
    "Visit",
    "VisitPiece",
    "VisitTask",
]
