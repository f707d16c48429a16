from projects.record.models.addresses import CalendarAddress, Follower
from projects.record.models.buyers import Buyer, StagePayment
from projects.record.models.changes import Change
from projects.record.models.cost_terms import CostRange, CostTerms
from projects.record.models.designs import Design, Part, Revision
from projects.record.models.orders import Order, OrderLine, Payment, Receipt
from projects.record.models.paint_receipts import PaintReceipt
from projects.record.models.photos import Photo
from projects.record.models.pieces import Piece
from projects.record.models.plans import Plan, PlanRun, Slot
from projects.record.models.projects import Machine, Project
from projects.record.models.proving import Check, Expense, Fitting, Trial
from projects.record.models.quotes import Quote, QuoteBreak, QuoteRequest, RequestLine
from projects.record.models.routes import Operation, Tool, ToolRepair
from projects.record.models.steps import Step
from projects.record.models.suppliers import ExchangeRate, Supplier
from projects.record.models.visits import Visit, VisitPiece, VisitTask

__all__ = [
    "Buyer",
    "CalendarAddress",
    "Change",
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
