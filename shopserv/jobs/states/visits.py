"""The stay of a vehicle, from expected to gone."""

from __future__ import annotations

from shopserv.common.moves import Move

VISIT_MOVES = [
    Move("expected", "take in", "here", "writer owner"),
    Move("expected", "turn away", "turned away", "writer owner"),
    Move("here", "wait for word", "waiting on word", "writer owner"),
    Move("in work", "wait for word", "waiting on word", "technician writer owner"),
    Move("here", "begin work", "in work", "S", "a work order is cleared"),
    Move("waiting on word", "begin work", "in work", "S", "a work order is cleared"),
    Move(
        "in work",
        "be ready",
        "ready",
        "S",
        "every work order has its second look, or is cut short",
    ),
    Move("here", "leave", "gone", "writer owner", "no work was begun"),
    Move("waiting on word", "leave", "gone", "writer owner", "no work was begun"),
    Move(
        "ready",
        "hold for payment",
        "held for payment",
        "writer owner",
        "the lien notice of the place",
    ),
    Move("ready", "hand over", "gone", "writer owner"),
    Move("held for payment", "hand over", "gone", "writer owner"),
]
