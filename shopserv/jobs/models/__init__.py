"""Visits and findings; quotes and consents; work orders. Each part uses those before it."""

from shopserv.jobs.models.quotes import Authorization, CustomerEvent, Line, Option, Quote, QuoteVersion
from shopserv.jobs.models.visits import Complaint, Finding, Visit
from shopserv.jobs.models.work import BayEvent, BayStep, LevelRecord, MassBalance, SecondLook, WorkOrder

__all__ = [
    "Authorization",
    "BayEvent",
    "BayStep",
    "Complaint",
    "CustomerEvent",
    "Finding",
    "LevelRecord",
    "Line",
    "MassBalance",
    "Option",
    "Quote",
    "QuoteVersion",
    "SecondLook",
    "Visit",
    "WorkOrder",
]
