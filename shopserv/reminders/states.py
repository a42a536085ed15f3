"""What becomes of a reminder."""

from __future__ import annotations

from shopserv.common.moves import Move

REMINDER_MOVES = [
    Move("planned", "send", "sent", "clock", "its letter is sent in the same transaction"),
    Move(
        "planned", "be stopped", "stopped", "S", "sold, taken in, permission withdrawn, newer forecast; its letter too"
    ),
    Move("sent", "answer", "answered", "writer owner customer"),
    Move("sent", "book", "booked", "S", "a visit names it"),
    Move("answered", "book", "booked", "S", "a visit names it"),
    Move("planned", "stop", "stopped", "writer owner"),
    Move("sent", "stop", "stopped", "writer owner"),
    Move("answered", "stop", "stopped", "writer owner"),
    Move("booked", "stop", "stopped", "writer owner"),
]
