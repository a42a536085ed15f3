"""What is done at the bay sheet: presses and steps, findings, the level, close-out and second look."""

from shopserv.jobs.services.bay_level import LevelSet, Setting, set_level
from shopserv.jobs.services.bay_press import (
    Finished,
    Press,
    finish_step,
    press,
    redo_step,
    skip_step,
)

__all__ = ["Finished", "LevelSet", "Press", "Setting", "finish_step", "press", "redo_step", "set_level", "skip_step"]
