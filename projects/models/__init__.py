from .designs import Design, Part, Revision
from .photos import Photo
from .pieces import Piece
from .projects import Follower, Machine, Project
from .steps import Step
from .visits import Visit, VisitPiece, VisitTask

__all__ = [
    "Design",
    "Follower",
    "Machine",
    "Part",
    "Photo",
    "Piece",
    "Project",
    "Revision",
    "Step",
    "Visit",
    "VisitPiece",
    "VisitTask",
]
