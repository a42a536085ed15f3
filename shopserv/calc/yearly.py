"""How much of a vehicle's uneven driving goes with the time of the year: a wave laid through its readings."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, sin

YEAR = 365.25  # days
LEAST = 4  # stretches: two figures of a wave and a mean leave nothing open in fewer
HELD = 4.0  # days: what a wave is held down by, so that stretches of whole years show none


def share(stretches: Sequence[tuple[float, float]], own: float, floor: float) -> float:
    """Share of the scatter between readings that a wave of one year takes up beyond chance, 0 to 1.

    stretches   (days, distance) from each reading to the next, oldest first
    own         distance a day, above 0
    floor       least scatter of a stretch, as a variance of the distance over the rate squared, a day; above 0
    source      least squares with a small ridge, adjusted R squared (Theil 1961): 1 - (1 - R2) (n - 1) / (n - 3)
    check       8 stretches of a quarter year, a wave of half the rate: 0.981
    """
    count = len(stretches)
    if count < LEAST:
        return 0.0
    span = sum(days for days, _ in stretches)
    mean = max(0.0, sum(far for _, far in stretches)) / span
    scatter, at = count * floor, 0.0
    cc = ss = HELD
    cs = cz = sz = 0.0
    for days, far in stretches:
        off, turned = (far - mean * days) / own, 2 * pi * days / YEAR
        scatter += off * off / days
        # The mean of the wave's two parts over the stretch.
        c, s = (sin(at + turned) - sin(at)) / turned, (cos(at) - cos(at + turned)) / turned
        cc, ss, cs = cc + days * c * c, ss + days * s * s, cs + days * c * s
        cz, sz = cz + c * off, sz + s * off
        at += turned
    taken = (cz * cz * ss + sz * sz * cc - 2 * cz * sz * cs) / (cc * ss - cs * cs)
    return max(0.0, 1 - (1 - taken / scatter) * (count - 1) / (count - 3))
