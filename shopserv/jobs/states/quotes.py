"""Quote versions and the customer's consents."""

from __future__ import annotations

from shopserv.common.moves import Move

VERSION_MOVES = [
    Move(
        "draft",
        "offer",
        "offered",
        "writer owner",
        "every row priced, no method barred, margin above the floor",
    ),
    Move("draft", "replace", "replaced", "writer owner"),
    Move(
        "offered",
        "agree",
        "agreed",
        "writer owner customer",
        "good until not past, amount and check words agree",
    ),
    Move("offered", "decline", "declined", "writer owner customer"),
    Move("offered", "expire", "expired", "clock", "good until is past"),
    Move("offered", "be replaced", "replaced", "S", "a newer version is offered"),
]

AUTHORIZATION_MOVES = [
    Move("counted", "be added to", "added to", "S", "one for more work counts"),
    Move("counted", "be replaced", "replaced", "S", "one for another option counts"),
    Move(
        "counted",
        "take back",
        "taken back",
        "writer owner customer",
        "nothing is invoiced",
    ),
]
