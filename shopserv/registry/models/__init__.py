"""Customers, contact points and permissions, vehicles, plates, keepers, and which unit a vehicle has."""

from shopserv.registry.models.people import (
    ContactPoint,
    Customer,
    ExemptionCertificate,
    MessageConsent,
    StandingAgreement,
)
from shopserv.registry.models.vehicles import (
    Identification,
    KeeperRecord,
    PlateRecord,
    SearchKey,
    TemperatureLog,
    UsePattern,
    Vehicle,
)

__all__ = [
    "ContactPoint",
    "Customer",
    "ExemptionCertificate",
    "Identification",
    "KeeperRecord",
    "MessageConsent",
    "PlateRecord",
    "SearchKey",
    "StandingAgreement",
    "TemperatureLog",
    "UsePattern",
    "Vehicle",
]
