"""What is done at the bay sheet: presses and steps, findings, the level, close-out and second look."""

from shopserv.jobs.services.bay_close import ClosedOut, close_out, recheck
from shopserv.jobs.services.bay_find import Found, find, find_coolant
from shopserv.jobs.services.bay_level import LevelSet, Setting, set_level
from shopserv.jobs.services.bay_look import ask_again, give_figures, take_second_look
from shopserv.jobs.services.bay_press import (
    Answers,
    Finished,
    Press,
    finish_step,
    press,
    redo_step,
    skip_step,
)
from shopserv.jobs.services.bay_weigh import weigh_package

__all__ = [
    "Answers",
    "ClosedOut",
    "Finished",
    "Found",
    "LevelSet",
    "Press",
    "Setting",
    "ask_again",
    "close_out",
    "find",
    "find_coolant",
    "finish_step",
    "give_figures",
    "press",
    "recheck",
    "redo_step",
    "set_level",
    "skip_step",
    "take_second_look",
    "weigh_package",
]
