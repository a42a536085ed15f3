"""Who may what: the rights that pages and deeds ask for, as data.

Roles: writer, technician, parts, owner, "second look" (a grant of its own), customer (holder of a link), clock.
"""

from __future__ import annotations

_TABLE = {
    "open file": "writer technician parts owner",
    "see people": "writer owner",  # names and phones of customers in full
    "see prices": "writer owner",
    "see cost": "owner",
    "see own margin": "writer owner",
    "counter desk": "writer owner",
    "take in": "writer owner",
    "write quote": "writer owner",
    "offer quote": "writer owner",
    "offer under floor": "owner",
    "record consent": "writer owner",
    "decide": "customer",  # yes or no by one's own link
    "clear work": "writer owner",
    "bay line": "technician",
    "bay work": "technician",
    "bay sheet": "technician writer owner",  # the counter looks in; who presses has "bay work"
    "override finding": "owner",
    "identify unit": "writer technician owner",
    "settle identification": "owner",
    "cut short": "owner",
    "issue invoice": "writer owner",
    "papers": "writer technician parts owner",
    "fluid ahead": "writer parts owner",
    "batches": "parts owner",
    "due soon": "writer owner",
    "plan reminders": "writer owner",
    "answer reminder": "writer owner customer",
    "consent to messages": "writer owner customer",
    "unit sheet": "writer technician parts owner",
    "house rules": "owner",
    "instruments": "parts owner",
    "trail": "owner",
    "make link": "writer owner clock",
    "tick": "clock",
}

RIGHTS: dict[str, frozenset[str]] = {right: frozenset(who.split()) for right, who in _TABLE.items()}
RIGHTS["second look"] = frozenset({"second look"})  # a grant of its own, whatever the role
RIGHTS["look on"] = frozenset({"second look", "technician"})  # the tablet may be signed in as whose work it is
