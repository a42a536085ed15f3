"""Which moves exist: visits, quote versions and authorizations, work orders. Anything not listed is refused."""

from shopserv.jobs.states.quotes import AUTHORIZATION_MOVES, VERSION_MOVES
from shopserv.jobs.states.visits import VISIT_MOVES
from shopserv.jobs.states.work import LOOK_MOVES, STEP_MOVES, WORK_MOVES

__all__ = ["AUTHORIZATION_MOVES", "LOOK_MOVES", "STEP_MOVES", "VERSION_MOVES", "VISIT_MOVES", "WORK_MOVES"]
