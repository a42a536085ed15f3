"""Addresses of the records: open file, the logbook of a vehicle, unit sheets, papers as files."""

from __future__ import annotations

from django.urls import path, register_converter

from shopserv.web.records import (
    due_sums,
    find,
    fluid_ahead,
    instruments,
    papers,
    places,
    severity,
    unit,
    vehicle,
    what_if,
)


class Printed:
    """A printed number or kind: no slash, no control sign (which one engine does not even take in a question)."""

    regex = r"[^/\x00-\x1f\x7f]{1,60}"

    def to_python(self, value: str) -> str:
        """As it stands."""
        return value

    def to_url(self, value: str) -> str:
        """As it stands."""
        return value


register_converter(Printed, "printed")
app_name = "records"
urlpatterns = [
    path("", find.find, name="find"),
    path("vehicle/<printed:number>/", vehicle.vehicle, name="vehicle"),
    path("vehicle/<printed:number>/due/", due_sums.due_sums, name="due_sums"),
    path("vehicle/<printed:number>/severity/", severity.severity, name="severity"),
    path("vehicle/<printed:number>/what-if/", what_if.what_if_page, name="what_if"),
    path("places/", places.places, name="places"),
    path("fluid-ahead/", fluid_ahead.fluid_ahead_page, name="fluid_ahead"),
    path("fluid-ahead/sums/", fluid_ahead.fluid_sums, name="fluid_sums"),
    path("instruments/", instruments.instruments, name="instruments"),
    path("unit/<printed:code>/", unit.unit, name="unit"),
    path("paper/<printed:kind>/<printed:number>/<int:version>/", papers.paper, name="paper"),
]
