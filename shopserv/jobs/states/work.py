"""Work orders, the steps of the bay sheet and the second look."""

from __future__ import annotations

from shopserv.common.moves import Move

WORK_MOVES = [
    Move("written up", "clear", "cleared", "writer owner", "a counted authorization that covers method and parts"),
    Move("cleared", "start", "in the bay", "technician", "the authorization still counts, no stop stands"),
    Move("in the bay", "hold", "on hold", "technician S", "the reason and its grade"),
    Move("on hold", "resume", "in the bay", "technician owner", "T for watch, O for a decision, K-01 never"),
    Move("in the bay", "set the level", "level set", "technician", "a level record that passes"),
    Move("level set", "recheck", "in the bay", "technician", "the reason"),
    Move("level set", "be seen", "second look done", "S", "the second look says yes"),
    Move("cleared", "cut short", "cut short", "owner", "a reassembly note"),
    Move("in the bay", "cut short", "cut short", "owner", "a reassembly note"),
    Move("on hold", "cut short", "cut short", "owner", "a reassembly note"),
    Move("second look done", "close", "closed", "S", "the invoice is issued"),
    Move("level set", "close", "closed", "S", "the invoice is issued; closed out, no look was asked for"),
    Move("level set", "be put together", "cut short", "S", "ended early, closed out; no look was asked for"),
    Move("second look done", "be put together", "cut short", "S", "ended early, put together again and looked at"),
    Move("cut short", "close", "closed", "S", "what a diagnosis or teardown covers is invoiced or waived"),
]  # fmt: skip

STEP_MOVES = [
    Move("ahead", "come up", "now", "S", "the one before is done or skipped"),
    Move("now", "finish", "done", "technician", "every reading that it needs"),
    Move("now", "skip", "skipped", "technician", "the step allows it, with the reason"),
    Move("done", "redo", "redone", "technician", "new readings; the old ones stay"),
]

# Who looks is a grant of its own beside the roles, which the deed asks for: services.bay_look.
LOOK_MOVES = [
    Move("asked for", "say yes", "yes", "S", "another person with the grant and own PIN, or marked as one's own"),
    Move("asked for", "say no", "no", "S", "the same; could not see counts as no"),
    Move("no", "ask again", "asked for", "technician", "after rework; a new row beside the old one"),
]
