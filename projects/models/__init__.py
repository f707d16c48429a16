from .buyers import Buyer, StagePayment
from .calendars import CalendarAddress
from .cost_terms import CostRange, CostTerms
from .designs import Design, Part, Revision
from .orders import Order, OrderLine, Payment, Receipt
from .paint_receipts import PaintReceipt
from .photos import Photo
from .pieces import Piece
from .plans import Plan, PlanRun, Slot
from .projects import Follower, Machine, Project
from .proving import Check, Expense, Fitting, Trial
from .quotes import Quote, QuoteBreak, QuoteRequest, RequestLine
from .routes import Operation, Tool, ToolRepair
from .steps import Step
from .suppliers import ExchangeRate, Supplier
from .visits import Visit, VisitPiece, VisitTask

__all__ = [
    "Buyer",
    "CalendarAddress",
    "Check",
    "CostRange",
    "CostTerms",
    "Design",
    "ExchangeRate",
    "Expense",
    "Fitting",
    "Follower",
    "Machine",
    "Operation",
    "Order",
    "OrderLine",
    "PaintReceipt",
    "Part",
    "Payment",
    "Photo",
    "Piece",
    "Plan",
    "PlanRun",
    "Project",
    "Quote",
    "QuoteBreak",
    "QuoteRequest",
    "Receipt",
    "RequestLine",
    "Revision",
    "Slot",
    "StagePayment",
    "Step",
    "Supplier",
    "Tool",
    "ToolRepair",
    "Trial",
    "Visit",
    "VisitPiece",
    "VisitTask",
]
