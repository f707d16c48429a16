from .coatings import Additive, Coating, DryingPoint, Layer, System, TinSize
from .media import Medium
from .sign_ins import FailedSignIn
from .weather import Ensemble, Forecast, Reading
from .workshops import DayOff, Invitation, Membership, Place, User, Workshop
from .years import YearOfWeather

__all__ = [
    "Additive",
    "Coating",
    "DayOff",
    "DryingPoint",
    "Ensemble",
    "FailedSignIn",
    "Forecast",
    "Invitation",
    "Layer",
    "Medium",
    "Membership",
    "Place",
    "Reading",
    "System",
    "TinSize",
    "User",
    "Workshop",
    "YearOfWeather",
]
