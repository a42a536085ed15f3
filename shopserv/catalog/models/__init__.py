"""Units and their sheets, fitments, fluids, packages, parts and labor operations."""

from shopserv.catalog.models.goods import FluidProduct, FluidSpecification, LaborOperation, Package, Part
from shopserv.catalog.models.units import Fitment, SheetValue, Unit, UnitSheet

__all__ = [
    "Fitment",
    "FluidProduct",
    "FluidSpecification",
    "LaborOperation",
    "Package",
    "Part",
    "SheetValue",
    "Unit",
    "UnitSheet",
]
