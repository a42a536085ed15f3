"""What a VIN says of its vehicle: proposals for a slip, never stored without a person."""

from __future__ import annotations

from vininfo import Vin
from vininfo.common import UnsupportedBrand
from vininfo.exceptions import VininfoException

from shopserv.calc import errors, vin


def maker(plain: str) -> str:
    """The maker that a library of world manufacturer identifiers knows for this VIN; empty where it knows none.

    source   the table of vininfo (identifiers by ISO 3780)
    """
    try:
        found = str(Vin(plain).manufacturer or "")
    except VininfoException:  # of another length, or with a letter that no VIN has
        return ""
    return "" if found == UnsupportedBrand.__name__ else found


def model_year(plain: str, this_year: int) -> int | None:
    """The newest model year that position 10 can stand for by now; none where it says none.

    A model year may begin in the year before it.

    source   49 CFR 565.15(d)(1)
    """
    try:
        years = vin.model_years(plain, "light") + vin.model_years(plain, "other")
    except errors.CalcError:
        return None
    return next((year for year in years if year <= this_year + 1), None)
