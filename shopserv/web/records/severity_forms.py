"""The forms of the severity page: use, home, temperature log, laboratory's figure; and a place of the shop's own."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.calc.measures import convert, whole
from shopserv.calc.profile import ASSUMED_C, KINDS
from shopserv.common import formats
from shopserv.registry.models import UsePattern
from shopserv.shop.climates import Month
from shopserv.shop.models import ClimatePlace
from shopserv.web.fields import (
    DayField,
    OdometerField,
    PercentField,
    QuantityField,
    TemperatureField,
    WholeField,
)
from shopserv.web.forms import NOT_TYPED, PageForm
from shopserv.web.records import severity_rows

MONTHS = tuple(range(1, 13))
REQUIRED = {"required": NOT_TYPED}
MOST_MB = 4
SUMP_MDEGC = (50_000, 160_000)  # a warm sump; what makes sense only in the other unit is asked: common practice


def heat_unit(first: str) -> str:
    """The unit that a temperature is typed in where none is written."""
    return "degF" if first == "us" else "degC"


def heat_typed(mdegc: int, first: str) -> str:
    """A temperature as it is typed: "174.2"."""
    return severity_rows.degrees(mdegc / 1000, first).partition(" ")[0].replace("−", "-")


class UseForm(PageForm):
    """Short trips, storage, and the kinds of use with what the sump runs at."""

    short_trips = PercentField(kind="share", label=gettext_lazy("Short trips, share of all"))
    stored_months = WholeField(kind="use", most=12, label=gettext_lazy("Stored, months a year"), unit="0 to 12")

    def __init__(self, *args: Any, first: str, use: UsePattern | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = {kind: (share, mdegc) for kind, share, mdegc in (use.profile if use else [])}
        if use:
            self.fields["short_trips"].initial = formats.percent(use.short_trip_ppm, 4).partition(" ")[0]
            self.fields["stored_months"].initial = str(use.stored_months)
        for kind in KINDS:
            share, mdegc = known.get(kind, (0, 1000 * ASSUMED_C[kind]))
            words = {"kind": severity_rows.KINDS[kind]}
            self.fields[f"share_{kind}"] = PercentField(
                kind="share",
                required=False,
                label=_("Share of %(kind)s driving") % words,
                initial=formats.percent(share, 4).partition(" ")[0] if known else "",
            )
            self.fields[f"heat_{kind}"] = TemperatureField(
                unit=heat_unit(first),
                label=_("Sump in %(kind)s driving") % words,
                error_messages=REQUIRED,
                initial=heat_typed(mdegc, first),
                expects=SUMP_MDEGC,
            )

    def said(self) -> dict[str, Any]:
        """What the deed takes; temperatures left as the house assumes them are said to be assumed."""
        said = self.cleaned_data
        loads = [(kind, said[f"share_{kind}"] or 0, said[f"heat_{kind}"]) for kind in KINDS]
        return {
            "short_trip_ppm": said["short_trips"],
            "stored_months": said["stored_months"],
            "loads": loads,
            "is_assumed": all(f"heat_{kind}" not in self.changed_data for kind, share, _at in loads if share),
        }

    @property
    def pairs(self) -> list[tuple[Any, Any]]:
        """Share and temperature of each kind, side by side."""
        return [(self[f"share_{kind}"], self[f"heat_{kind}"]) for kind in KINDS]


class HomeForm(PageForm):
    """Where the vehicle is at home."""

    place = forms.ChoiceField(label=gettext_lazy("At home in"))

    def __init__(
        self, *args: Any, places: Sequence[ClimatePlace], reference: Sequence[dict[str, Any]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = place_choices(places, reference)  # type: ignore[attr-defined]


def place_choices(places: Sequence[ClimatePlace], reference: Sequence[dict[str, Any]]) -> list[Any]:
    """Places on file, then those of the reference data that are not yet."""
    known = {place.code for place in places}
    return [
        ("", "–"),
        (_("on file"), [(place.code, place.name) for place in places]),
        (_("reference data"), [(one["code"], one["name"]) for one in reference if one["code"] not in known]),
    ]


class WaterForm(PageForm):
    """What a laboratory found."""

    sampled_on = DayField(label=gettext_lazy("Sample of"))
    reference = forms.CharField(label=gettext_lazy("Number of the slip"), max_length=60)
    water_ppm = WholeField(kind="water", most=1_000_000, label=gettext_lazy("Water found"), unit="mg/kg")
    limit_ppm = WholeField(
        kind="water", least=1, most=1_000_000, label=gettext_lazy("Limit for this fluid"), unit="mg/kg"
    )
    limit_source = forms.CharField(label=gettext_lazy("Where the limit stands"), max_length=120)
    method = forms.CharField(label=gettext_lazy("Method, if the slip says"), max_length=80, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sampled_on"].not_after(today)  # type: ignore[attr-defined]

    def said(self) -> dict[str, Any]:
        """What the deed takes."""
        names = ("sampled_on", "reference", "water_ppm", "limit_ppm", "limit_source", "method")
        said = {name: self.cleaned_data[name] for name in names}
        return said | {"is_much_confirmed": "water.much" in self.confirmed}


class SlipForm(PageForm):
    """A laboratory's slip that shall count no more."""

    slip = forms.ChoiceField(label=gettext_lazy("Slip"))
    why = forms.CharField(label=gettext_lazy("Why it counts no more"), max_length=200)

    def __init__(self, *args: Any, slips: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slip"].choices = [("", "–"), *slips]  # type: ignore[attr-defined]


class TopUpForm(PageForm):
    """Fluid that was added between jobs."""

    topped_on = DayField(label=gettext_lazy("Topped up on"))
    odometer = OdometerField(label=gettext_lazy("Odometer then"))
    added = QuantityField(label=gettext_lazy("Added"))
    fluid = forms.ChoiceField(label=gettext_lazy("Fluid"))
    elsewhere = forms.BooleanField(label=gettext_lazy("not at this shop"), required=False)

    def __init__(
        self, *args: Any, today: date, unit: str, first: str, fluids: Sequence[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["topped_on"].not_after(today)  # type: ignore[attr-defined]
        self.fields["odometer"].keep_unit(unit)  # type: ignore[attr-defined]
        added: Any = self.fields["added"]
        added.unit_shown, added.how = ("qt", {"unit": "qt"}) if first == "us" else ("L", {"unit": "L"})
        self.fields["fluid"].choices = [("", "–"), *fluids]  # type: ignore[attr-defined]

    def said(self) -> dict[str, Any]:
        """What the deed takes."""
        said = self.cleaned_data
        return {
            "on": said["topped_on"],
            "figure": said["odometer"].figure,
            "unit": said["odometer"].unit,
            "added_ml": said["added"].ml,
            "fluid_code": said["fluid"],
            "elsewhere": said["elsewhere"],
            "is_other_fluid_confirmed": "top_up.fluid" in self.confirmed,
        }


class LogForm(PageForm):
    """A temperature log as CSV; what its head does not say is asked."""

    file = forms.FileField(
        label=gettext_lazy("Log as CSV: time and temperature"),
        help_text=gettext_lazy("At most 4 MB. A file cannot be kept in the field: choose it again after a refusal."),
        error_messages={"empty": gettext_lazy("The file is empty. Choose another one.")},
    )
    time = WholeField(kind="column", least=1, most=99, required=False, label=gettext_lazy("Column of the time"))
    heat = WholeField(kind="column", least=1, most=99, required=False, label=gettext_lazy("Column of the temperature"))
    unit = forms.ChoiceField(
        label=gettext_lazy("Unit"),
        choices=[("", gettext_lazy("as its head says")), ("degF", "°F"), ("degC", "°C")],
        required=False,
    )
    ticks = forms.ChoiceField(
        label=gettext_lazy("Plain numbers of time are in"),
        choices=[
            ("", gettext_lazy("as its head says")),
            ("s", gettext_lazy("seconds")),
            ("ms", gettext_lazy("milliseconds")),
            ("min", gettext_lazy("minutes")),
            ("h", gettext_lazy("hours")),
        ],
        required=False,
    )

    def said(self) -> dict[str, Any]:
        """What the deed takes; columns are counted from 1 on the page."""
        said = self.cleaned_data
        return {
            "file_name": said["file"].name,
            "data": said["file"].read(MOST_MB * 1_000_000 + 1),
            "time": None if said["time"] is None else said["time"] - 1,
            "heat": None if said["heat"] is None else said["heat"] - 1,
            "unit": said["unit"] or None,
            "ticks": said["ticks"] or None,
            "are_faults_confirmed": "log.faults" in self.confirmed,
        }


class PlaceForm(PageForm):
    """A place with the shop's own figures: twelve months, or the first line alone for the whole year."""

    corrects = forms.ChoiceField(label=gettext_lazy("These figures are of"), required=False)
    name = forms.CharField(label=gettext_lazy("Name of the place"), max_length=80)
    altitude = WholeField(kind="altitude", most=12_000, label=gettext_lazy("Height above the sea"))
    source = forms.CharField(label=gettext_lazy("Where the figures come from"), max_length=200)
    period = forms.CharField(label=gettext_lazy("Which years, if known"), max_length=80, required=False)
    kind = forms.ChoiceField(
        label=gettext_lazy("Beside the temperature stands"),
        choices=[("humidity", gettext_lazy("relative humidity, %")), ("dew", gettext_lazy("dew point"))],
        widget=forms.RadioSelect,
        initial="humidity",
    )

    def __init__(self, *args: Any, first: str, own: Sequence[tuple[str, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        corrected = [(code, _("%(place)s, corrected from today on") % {"place": name}) for code, name in own]
        self.fields["corrects"].choices = [("", _("a new place")), *corrected]  # type: ignore[attr-defined]
        height: Any = self.fields["altitude"]
        self.height_unit = height.unit_shown = "ft" if first == "us" else "m"
        dew = self.data.get("kind") == "dew" if self.is_bound else False
        for n in MONTHS:
            words = {"month": formats.month(date(2001, n, 1)).partition(" ")[0]}
            self.fields[f"heat_{n}"] = TemperatureField(
                unit=heat_unit(first), required=n == 1, error_messages=REQUIRED, label=_("%(month)s, mean") % words
            )
            label = _("%(month)s, humidity or dew point") % words
            self.fields[f"air_{n}"] = (
                TemperatureField(unit=heat_unit(first), required=n == 1, error_messages=REQUIRED, label=label)
                if dew
                else PercentField(kind="share", required=n == 1, error_messages=REQUIRED, label=label)
            )

    def clean(self) -> dict[str, Any]:
        """One line, or all twelve; a line has both its figures."""
        said = super().clean() or {}
        begun = [n for n in MONTHS if said.get(f"heat_{n}") is not None or said.get(f"air_{n}") is not None]
        for n in MONTHS[1:]:
            for name in (f"heat_{n}", f"air_{n}"):
                if name not in self.errors and said.get(name) is None and len(begun) > 1:
                    words = _("Empty. Type all twelve months, or January alone for the whole year.")
                    self.add_error(name, forms.ValidationError(words, code="place.months"))
        return said

    @property
    def altitude_m(self) -> int:
        """The height in whole meters, whatever the shop types it in."""
        return whole(convert(self.cleaned_data["altitude"], self.height_unit, "m"))

    def months(self) -> list[Month]:
        """What the deed takes."""
        said, dew = self.cleaned_data, self.cleaned_data["kind"] == "dew"
        return [
            Month(said[f"heat_{n}"], dew_point_mdegc=said[f"air_{n}"])
            if dew
            else Month(said[f"heat_{n}"], humidity_ppm=said[f"air_{n}"])
            for n in MONTHS
            if said[f"heat_{n}"] is not None
        ]

    @property
    def pairs(self) -> list[tuple[Any, Any]]:
        """Both figures of each month, side by side."""
        return [(self[f"heat_{n}"], self[f"air_{n}"]) for n in MONTHS]
