"""Where the lines of our drawings stand. Pure: figures in, coordinates as text out; templates/parts prints them."""

from shopserv.common.drawing.bars import (
    clock_bar,
    due_line,
    scale,
    share_bar,
    week_bars,
    weeks_around,
)
from shopserv.common.drawing.cooling import cooling_curve
from shopserv.common.drawing.drift import drift_strip
from shopserv.common.drawing.spread import spread
from shopserv.common.drawing.strip import road_strip
from shopserv.common.drawing.tube import level_tube, share_tube, tube_row, tube_scale

__all__ = [
    "clock_bar",
    "cooling_curve",
    "drift_strip",
    "due_line",
    "level_tube",
    "road_strip",
    "scale",
    "share_bar",
    "share_tube",
    "spread",
    "tube_row",
    "tube_scale",
    "week_bars",
    "weeks_around",
]
