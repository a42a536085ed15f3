"""The unit sheet: each value with its source, what is not known with what waits for it."""

from __future__ import annotations

import pytest

from shopserv.catalog.models import SheetValue, Unit, UnitSheet
from shopserv.catalog.sheets import WHAT
from shopserv.common import clock
from shopserv.logbook.services import record_service
from shopserv.web.records.sheet_rows import SECTIONS, figure_html

pytestmark = pytest.mark.django_db


def text_of(client, code="AL640", query=""):
    answer = client.get(f"/records/unit/{code}/{query}")
    assert answer.status_code == 200
    return answer.content.decode()


def new_sheet(cast, state="checked", version=2, **values):
    """A further version of the example unit's sheet, with the given values alone."""
    unit = cast.unit("AL640")
    sheet = UnitSheet.objects.create(unit=unit, version=version, state="checked", from_on=cast.today)
    for what, (low, high) in values.items():
        SheetValue.objects.create(
            sheet=sheet, what=what, low=low, high=high, source="bench", source_grade="measured", at=clock.now(),
            by=cast.maren.staff,
        )  # fmt: skip
    if state != "checked":
        UnitSheet.objects.filter(pk=sheet.pk).update(state=state)
    return sheet


def test_each_value_that_there_can_be_has_its_line():
    assert sorted(what for _title, whats in SECTIONS for what in whats) == sorted(WHAT)


def test_the_sheet_says_figures_sources_and_what_follows(tobin):
    text = text_of(tobin)

    for words in ("7.8 qt (7.4 L)", "104.0 °F (40.0 °C)", "25.8 lb·ft (35 N·m)", "60,000 mi", "60 months", "780 cm²",
                  "0.5°", "1.5 L/min", "overflow tube", "invented", "Fenmark 2 Multi", "A640-####"):  # fmt: skip
        assert words in text
    assert "follows it from build 2021-07" in text
    assert 'href="/records/unit/AL641/"' in text


def test_what_is_not_known_says_what_waits_for_it_and_a_missing_plug_is_not_fitted(cast, tobin):
    new_sheet(cast, state="in force", torque_drain_mnm=(None, None))

    text = text_of(tobin)

    assert "not known" in text
    assert WHAT["drain_ml"].blocks in text
    assert "not fitted" in text


def test_a_band_stays_a_band(cast):
    sheet = new_sheet(cast, total_fill_ml=(7_200, 7_600))

    shown = figure_html("total_fill_ml", sheet.values.get(), "us")

    assert "7.6 qt (7.2 L) to 8.0 qt (7.6 L)" in shown


def test_who_entered_a_value_is_said(cast, tobin):
    new_sheet(cast, state="in force", pan_ml=(3_300, 3_300))

    assert f"bench, measured. {cast.maren.name}, Nov 24, 2026" in text_of(tobin)


def test_an_older_version_can_be_read_and_one_not_in_force_says_so(cast, tobin):
    new_sheet(cast, state="withdrawn")

    assert "version 1, in force" in text_of(tobin)
    assert "This version is withdrawn" in text_of(tobin, query="?version=2")


def test_a_unit_without_a_sheet_says_what_that_means(cast, tobin):
    Unit.objects.create(code="AL699", name="Alder 699", kind="stepped")

    assert "No sheet of this unit is on file" in text_of(tobin, "AL699")


def test_services_done_by_a_version_are_counted(cast, tobin):
    before = tobin.get("/records/unit/AL640/").context["done"]
    record_service(
        cast.vehicle("V-01"), actor=cast.tobin, done_on=cast.today, method="single drain", fluid_code="FEN2",
        fraction_low_ppm=390_000, fraction_high_ppm=392_000, unit_code="AL640", sheet_version=1,
    )  # fmt: skip

    assert f"{before + 1} services on record were done by this version." in text_of(tobin)


@pytest.mark.parametrize("who", ["tobin", "odo", "sam", "maren", "lise"])
def test_all_staff_of_every_shop_read_it(signed_in, who):
    assert "Alder 640" in text_of(signed_in(who))


@pytest.mark.parametrize("code", ["AL999", "0", "-1", "9223372036854775808", "AL640%00", "%FF", "AL640;"])
def test_b103_a_code_that_names_no_unit_is_not_found(tobin, code):
    assert tobin.get(f"/records/unit/{code}/").status_code == 404


@pytest.mark.parametrize(
    ("query", "status"), [("?version=9", 404), ("?version=0", 400), ("?version=1e3", 400), ("?sheet=1", 400)]
)
def test_a_version_that_cannot_be_meant_is_refused(tobin, query, status):
    assert tobin.get(f"/records/unit/AL640/{query}").status_code == status


@pytest.mark.parametrize("versions", [1, 10])
def test_the_number_of_queries_does_not_grow_with_versions(cast, tobin, versions, django_assert_num_queries):
    for version in range(2, versions + 2):
        new_sheet(cast, version=version, pan_ml=(3_300, 3_300))

    with django_assert_num_queries(12):
        text_of(tobin)
