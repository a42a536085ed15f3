"""What becomes of a letter."""

from __future__ import annotations

from shopserv.common.moves import Move

LETTER_MOVES = [
    Move("waiting", "send", "sent", "clock", "permission asked again at that moment"),
    Move("waiting", "cancel", "canceled", "S", "permission withdrawn, reminder stopped, paper replaced"),
    Move("sent", "wait again", "waiting", "S", "the mail server did not take it"),
    Move("sent", "come back", "came back", "S", "the mail server refused it, or nobody knows whether it left"),
]
