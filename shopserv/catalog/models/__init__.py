"""Units and their sheets, fitments, fluids, packages, parts and labor operations."""

from shopserv.catalog.models.goods import FluidProduct, FluidSpecification, LaborOperation, Package, Part
from shopserv.catalog.models.looks import IdentifyRule, Look, Sighting, UnitFeature
from shopserv.catalog.models.units import Fitment, SheetValue, Unit, UnitSheet

__all__ = [
    "Fitment",
    "FluidProduct",
    "FluidSpecification",
    "IdentifyRule",
    "LaborOperation",
    "Look",
    "Package",
    "Part",
    "SheetValue",
    "Sighting",
    "Unit",
    "UnitFeature",
    "UnitSheet",
]
