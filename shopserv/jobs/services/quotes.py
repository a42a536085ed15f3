"""Quotes from the plan to the offer: the deeds under one name."""

from __future__ import annotations

from shopserv.jobs.services.drafts import revise, write
from shopserv.jobs.services.offers import Offer, decline, expire, expire_due, give_link, offer
from shopserv.jobs.services.plan_data import BarredMethod, Edits, ExtraLine, OptionEdit, Plan, PlannedOption
from shopserv.jobs.services.plans import plan_for

__all__ = [
    "BarredMethod",
    "Edits",
    "ExtraLine",
    "Offer",
    "OptionEdit",
    "Plan",
    "PlannedOption",
    "decline",
    "expire",
    "expire_due",
    "give_link",
    "offer",
    "plan_for",
    "revise",
    "write",
]
