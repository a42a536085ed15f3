"""The named errors of the calculation. Their names are part of the contract of the reference checks.

Each message says the value, the cause and the range that would do.
"""

from __future__ import annotations


class CalcError(ValueError):
    """A value that makes no sense to the calculation."""

    @property
    def name(self) -> str:
        """The name in the contract."""
        return type(self).__name__


# Errors that any quantity can give


class UnknownQuantity(CalcError):
    """No such quantity."""


class MissingInput(CalcError):
    """A required input is absent."""


class ConflictingInput(CalcError):
    """Two inputs of which only one is allowed."""


class BadNumber(CalcError):
    """Not a plain number, or money with more than two decimals."""


class UnknownUnit(CalcError):
    """A unit that is not in the table."""


class DimensionMismatch(CalcError):
    """A known unit of the wrong dimension."""


class UnknownChoice(CalcError):
    """A word that is not among the allowed ones."""


class BadDate(CalcError):
    """Not a calendar date."""


class CurrencyMismatch(CalcError):
    """Another currency than that of the business."""


class NegativeMoney(CalcError):
    """A negative amount where only zero or more makes sense."""


class OutOfRange(CalcError):
    """Outside the stated range."""


# Fluid


class TareExceedsGross(CalcError):
    """A container that weighs more empty than full."""


class DateOrder(CalcError):
    """The later reading is not later."""


class NotCooling(CalcError):
    """The second temperature is not below the first."""


class Unreachable(CalcError):
    """A target that is never reached."""


class DrainExceedsCapacity(CalcError):
    """More drained than the unit holds."""


class BadUnitLayout(CalcError):
    """Capacities and pickup level that cannot belong to one unit."""


class DrainBelowEmpty(CalcError):
    """A drain level below the bottom of the sump."""


class PumpCannotReach(CalcError):
    """The pump cannot bring the sump to this level."""


# Water and interval


class DewPointAboveTemperature(CalcError):
    """Air cannot hold more water than at saturation."""


class SharesDoNotSumToOne(CalcError):
    """Shares of the time that are not the whole of it."""


# Distance and dates


class InsufficientReadings(CalcError):
    """No two readings that a slope could be taken from."""


class NotMoving(CalcError):
    """A vehicle that covers no distance."""


# Vehicle numbers


class BadVinLength(CalcError):
    """A vehicle number that has not 17 characters."""


class BadVinCharacter(CalcError):
    """A character that a vehicle number cannot have."""


class BadYearCode(CalcError):
    """A character that stands for no model year."""


# Money and goods


class NoPackage(CalcError):
    """The packages at hand do not cover the need."""


class BadBands(CalcError):
    """Mark-up bands that do not begin at zero and rise, or with a negative mark-up."""


class NotTenths(CalcError):
    """A time that is not a whole number of tenths of an hour."""


class DiscountExceedsTotal(CalcError):
    """A discount larger than what it is taken from."""


class OverCredit(CalcError):
    """More credited than was invoiced."""


class NeverPaysBack(CalcError):
    """A saving that is not above zero."""


class NeverBreaksEven(CalcError):
    """Doing it oneself saves nothing."""


# Laboratory


class BadCounts(CalcError):
    """More large particles than small ones, although each count includes the larger."""
