"""Every address and who may open it. An address without a row here is refused, and fails the build.

A row is: name of the route -> right of `shop.rights`, or one of
    PUBLIC      anyone
    SIGNED_IN   any of the staff
    LINK        the holder of the link in the path; the view resolves it
A pair (reading, writing) gives another right to POST than to GET.
Acts that a deed grants more narrowly (own job, a grant of its own) are refused by the deed as well.
"""

from __future__ import annotations

PUBLIC, SIGNED_IN, LINK = "*", "staff", "link"

ADDRESSES: dict[str, str | tuple[str, str]] = {
    "home": SIGNED_IN,
    "sign_in": PUBLIC,
    "sign_out": PUBLIC,
    "choose_shop": SIGNED_IN,
    "help": SIGNED_IN,
    "help_orders": "open file",
    "healthz": PUBLIC,
    "readyz": PUBLIC,
    "security_txt": PUBLIC,
    # counter
    "counter:desk": "counter desk",
    "counter:intake": "take in",
    "counter:expect": "take in",
    "counter:visit": "counter desk",
    "counter:act": "take in",
    "counter:decide": "take in",
    "counter:identify": "identify unit",
    "counter:which": ("counter desk", "take in"),
    "counter:write": "write quote",
    "counter:quote": ("see prices", "write quote"),
    "counter:link": "make link",
    "counter:revise": "write quote",
    "counter:consent": "record consent",
    "counter:room": "see prices",
    "counter:course": ("see prices", "write quote"),
    "counter:version": "see prices",
    "counter:working": "see prices",
    "counter:work_sums": "issue invoice",
    "counter:work": ("counter desk", "clear work"),
    "counter:papers": "counter desk",
    # office
    "office:due_soon": "due soon",
    "office:plan_reminders": "plan reminders",
    "office:sold_needed": "house rules",
    "office:trail": "trail",
    # records
    "records:find": "open file",
    "records:vehicle": ("open file", "take in"),
    "records:due_sums": "open file",
    "records:severity": ("open file", "take in"),
    "records:what_if": "open file",
    "records:places": ("open file", "house rules"),
    "records:unit": "unit sheet",
    "records:instruments": ("instruments", "instruments"),
    "records:fluid_ahead": "fluid ahead",
    "records:fluid_sums": "fluid ahead",
    "records:paper": "papers",
    # bay
    "bay:line": "bay line",
    "bay:sheet": ("bay sheet", "bay work"),
    "bay:press": "bay work",
    "bay:finish": "bay work",
    "bay:redo": "bay work",
    "bay:skip": "bay work",
    "bay:stop": "bay work",
    "bay:level": "bay work",
    "bay:recheck": "bay work",
    "bay:weigh": "bay work",
    "bay:sums": "bay sheet",
    "bay:close_out": ("bay sheet", "bay work"),
    "bay:looks": "second look",
    "bay:look": "look on",
    # customer
    "customer:decision": LINK,
    "customer:answer": LINK,
    "customer:decline": LINK,
    "customer:sums": LINK,
    "customer:reminders": LINK,
}


def right_for(name: str, method: str) -> str | None:
    """The right that `method` on the route `name` asks for; None where there is no row."""
    row = ADDRESSES.get(name)
    if isinstance(row, tuple):
        return row[0] if method in ("GET", "HEAD") else row[1]
    return row
