from .addresses import CalendarAddress, Follower
from .buyers import Buyer, StagePayment
from .changes import Change
from .cost_terms import CostRange, CostTerms
from .designs import Design, Part, Revision, Wording
from .film_readings import FilmReading
from .kept_states import KeptState
from .loans import Loan, LoanChange
from .mails import MailReader, MailSent, MailServer
from .opened_tins import OpenedTin, TinLook
from .orders import Order, OrderLine, Payment, Receipt
from .paint_receipts import PaintReceipt
from .photos import Chapter, Photo, StoryPage, each_once
from .pieces import Piece, PieceQuerySet
from .plans import Plan, PlanRun, Slot
from .projects import Machine, Project
from .proving import Check, Expense, Fitting, Trial
from .quotes import Quote, QuoteBreak, QuoteRequest, RequestLine
from .removals import CastingSize, Fixing, Removal
from .routes import Operation, Tool, ToolRepair
from .steps import Step
from .suppliers import ExchangeRate, Supplier
from .tags import Tag
from .try_outs import Candidate, ColourReply, SheetAddress, TryOut
from .visits import Visit, VisitPiece, VisitTask, pieces_on

__all__ = [
    "Buyer",
    "CalendarAddress",
    "Candidate",
    "CastingSize",
    "Change",
    "Chapter",
    "Check",
    "CostRange",
    "CostTerms",
    "Design",
    "ExchangeRate",
    "Expense",
    "Fitting",
    "Fixing",
    "FilmReading",
    "Follower",
    "KeptState",
    "Loan",
    "LoanChange",
    "Machine",
    "MailReader",
    "MailSent",
    "MailServer",
    "OpenedTin",
    "Operation",
    "Order",
    "OrderLine",
    "PaintReceipt",
    "Part",
    "Payment",
    "Photo",
    "Piece",
    "PieceQuerySet",
    "Plan",
    "PlanRun",
    "Project",
    "Quote",
    "QuoteBreak",
    "QuoteRequest",
    "Receipt",
    "ColourReply",
    "RequestLine",
    "Removal",
    "Revision",
    "SheetAddress",
    "Slot",
    "StagePayment",
    "StoryPage",
    "Step",
    "Supplier",
    "Tag",
    "TinLook",
    "Tool",
    "ToolRepair",
    "Trial",
    "TryOut",
    "Visit",
    "VisitPiece",
    "VisitTask",
    "Wording",
    "each_once",
    "pieces_on",
]
