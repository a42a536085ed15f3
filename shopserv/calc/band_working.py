"""The sum behind the band of a due day, as it is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from fractions import Fraction
from math import floor

from shopserv.calc.bands import (
    AVERAGE_A_DAY,
    AVERAGE_KM_A_YEAR,
    EVEN,
    FARTHEST,
    FIT,
    KM_PER_MI,
    LONG,
    LONGEST_PAST,
    SHORT,
    WIDEST,
    Side,
    latest_of,
    outlook,
)
from shopserv.calc.bands import day_after as after
from shopserv.calc.bands import stretches_of as stretches
from shopserv.calc.mileage import Reading
from shopserv.calc.working import From, Given, Step, Working

AVERAGE = (
    f"Federal Highway Administration, Highway Statistics 2009, table VM-1M: {AVERAGE_KM_A_YEAR:,} km a vehicle and year"
)
TRIED = "fitted on simulated vehicles and tried on others; the help says how often it holds"
FIGURES = {
    "factor": ("k", "factor"),
    "uneven": ("u", "power of the unevenness"),
    "even": ("v", "power of the unevenness once more, where it is low"),
    "uneven_far": ("y", "power of the unevenness once more, for the days ahead where they are not few"),
    "unknown": ("z", "power of the weight of the average"),
    "few": ("f", "power of what few readings leave open"),
    "drawn": ("d", "power of the distance a day over the one drawn towards the average"),
    "ahead": ("h", "power of the days ahead"),
    "short": ("i", "power of the days ahead once more, where they are few"),
    "long": ("j", "power of the days ahead once more, where they are many"),
    "season": ("c", "power of the share of the season"),
    "season_short": ("m", "power of the share of the season once more, where the days ahead are few"),
    "season_far": ("g", "power of the share of the season once more, where the days ahead are not few"),
}
FAR = "more than ten years after the last reading"
FAR_DAYS = 3652  # ten years: a late edge beyond says no more than that
FITTED = "fit of this version, " + TRIED


def band_working(readings: Sequence[Reading], left: Fraction, unit: str, rate: Fraction) -> Working:
    """How the band of a due day by distance comes about.

    readings   that the forecast took, in `unit` (mi or km); at least one
    left       distance left from the last of them, 0 or more
    rate       distance a day that the likely day goes by, above 0
    raises     UnknownUnit, OutOfRange
    source     calc.bands.outlook
    """
    found = outlook(readings, left, unit, rate)
    between, last = stretches(readings), latest_of(readings).on
    span, run = sum(days for days, _ in between), sum(far for _, far in between)
    average = AVERAGE_A_DAY * (1 if unit == "mi" else float(KM_PER_MI))
    usual = FIT.usual_mi * (1 if unit == "mi" else float(KM_PER_MI))
    is_far = found.late_days > FAR_DAYS
    own = [] if not between else [Step("own distance a day", r"r_o = \frac{L}{T}", run / span, f"{unit}/day")]
    return Working(
        figure="how sure the day by distance is",
        value=_whole(found.days),
        unit="days",
        low=_whole(found.early_days),
        high=None if is_far else _whole(found.late_days),
        formula="the band lies around the likely day; it widens with uneven driving, little known of its own rate and "
        "few readings, changes with the days ahead and with what goes with the time of the year, its late edge also "
        "with how far the distance a day lies from one drawn towards the published average",
        formulas=(
            r"H = \frac{l}{r}, \quad w = \frac{T}{T + \phi / \sigma^2}, \quad r_w = r_o^{\,w}\, r_a^{\,1 - w}",
            r"A = \max\left(1, \frac{H}{H_1}\right), \quad B = \min\left(1, \frac{H}{H_1}\right)",
            rf"s = \min\left({WIDEST:g},\; k\,U N Z \left(\frac{{H}}{{H_1}}\right)^{{h}} B^{{i}} "
            r"\max\left(1, \frac{H}{H_2}\right)^{j}\right)",
            r"U = \left(\frac{\phi}{\phi_0}\right)^{u + y \ln A} \min\left(1, \frac{\phi}{\phi_0}\right)^{v}",
            r"N = (1 - w)^{z} \left(1 + \frac{1}{n - 1}\right)^{f} \left(\frac{r}{r_w}\right)^{d}",
            r"Z = \left(\mathrm{e}^{c} A^{g} B^{m}\right)^{q}",
            r"\phi_u = \frac{U_0}{r_e}, \quad r_e = \frac{L + e}{T}, \quad m = n - 1",
            r"V = \frac{1}{m} \sum_i \frac{(L_i - T_i L / T)^2}{T_i\,r_e^2} + g\,\phi_u, \quad "
            r"\phi = \left(\phi_u^{\,p}\,V^{m}\right)^{1 / (p + m)}",
            r"q = \max\left(0, 1 - (1 - R) \frac{m - 1}{m - 3}\right)",
            r"H_\mathrm{early} = H e^{-s_b}, \quad H_\mathrm{late} = H e^{s_a}",
        ),
        given=(
            Given("l", "left by distance", left, unit, From.COMPUTED, "distance clock"),
            Given("n", "readings on different days", len(between) + 1, "", From.READ),
            Given("T", "days between the first and the last, at most", min(span, LONGEST_PAST), "days", From.READ),
            Given("L", "distance between them", run, unit, From.READ),
            Given("r", "distance a day, that of the likely day", rate, f"{unit}/day", From.COMPUTED, "distance clock"),
            Given("r_a", "average distance a day", average, f"{unit}/day", From.PUBLISHED, AVERAGE),
            Given(r"\sigma", "how far vehicles lie from the average", FIT.spread, "", From.MODELED, FITTED),
            Given(r"\phi_0", "unevenness that is not low", EVEN, "days", From.MODELED, FITTED),
            Given("H_1", "days ahead that are not few", SHORT, "days", From.MODELED, FITTED),
            Given("H_2", "days ahead that are not many", LONG, "days", From.MODELED, FITTED),
            Given("U_0", "usual unevenness times the distance a day", usual, unit, From.MODELED, FITTED),
            Given("p", "stretches that the usual unevenness counts for", FIT.prior_count, "", From.MODELED, FITTED),
            Given("g", "least own unevenness, of the usual one", FIT.own_floor, "", From.MODELED, FITTED),
            *_side(FIT.below, "b", "early edge"),
            *_side(FIT.above, "a", "late edge"),
        ),
        steps=(
            *own,
            Step("unevenness, own and usual weighed", r"\phi", found.unevenness, "days"),
            Step("weight of its own driving", "w", found.own_share, ""),
            Step("distance a day drawn towards the average", r"r_w", found.drawn, f"{unit}/day"),
            Step("share of the unevenness that goes with the time of the year", "q", found.season, ""),
            Step("days from the last reading to the likely day", "H", _whole(found.days), "days"),
            Step("width to the early edge", "s_b", found.below, ""),
            Step("width to the late edge", "s_a", found.above, ""),
            Step("early edge", r"H_\mathrm{early}", after(last, found.early_days), ""),
            Step("late edge", r"H_\mathrm{late}", FAR if is_far else after(last, found.late_days), ""),
        ),
        sources=("the width: our own, " + TRIED, AVERAGE),
        assumptions=(
            "without a stretch between readings 1 / (n - 1) counts as 0, and a way ahead of less than a day as a day",
            "L_i and T_i are of each stretch between two readings; e is one mile; without a stretch the usual "
            "unevenness is that of the average distance a day, and nothing else counts",
            "R is the share of the unevenness that a wave of one year, laid by least squares, takes up; with fewer "
            "than four stretches q is 0",
            f"no width counts above {WIDEST:g}; r counts as at most e to the power of {FARTHEST:g} times the drawn "
            "one, and at least as that part of it",
        ),
    )


def _whole(days: float) -> int:
    """Whole days, halves up, as the edges are."""
    return floor(days + 0.5)


def _side(side: Side, sign: str, edge: str) -> list[Given]:
    """The figures that the width to one edge is made of."""
    return [
        Given(f"{symbol}_{sign}", f"{words}, {edge}", getattr(side, one.name), "", From.MODELED, FITTED)
        for one in fields(side)
        for symbol, words in [FIGURES[one.name]]
    ]
