"""Which transmission it has: a tag that was read names the unit."""

from __future__ import annotations

import pytest

from shopserv.registry.selectors import identification_of
from shopserv.registry.services import units
from tests.jobs import stage
from tests.web.counter.test_flow import key_of, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def say(client, visit, **said):
    path = f"/counter/visit/{visit.number}/"
    given = {"once": key_of(client.get(path)), "grade": "read from tag", **said}
    return client.post(f"{path}identify/", given)


@pytest.fixture
def visit(cast):
    return stage.take_in(cast, "V-02")


def test_the_tag_of_another_unit_is_refused_and_kept_on_the_page(tobin, cast, visit):  # noqa: F811
    unit = cast.unit("DO440")
    before = identification_of(visit.vehicle).pk

    answer = say(tobin, visit, unit=unit.code, tag="A640-1187", seen="A640-1187 on the case")

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "no tag of" in page
    assert unit.tag_pattern in page
    assert 'value="A640-1187"' in page
    assert identification_of(visit.vehicle).pk == before


def test_without_a_tag_it_was_not_read(tobin, cast, visit):  # noqa: F811
    answer = say(tobin, visit, unit=cast.unit("AL641").code, seen="a tag on the case")

    assert answer.status_code == 422
    assert "Write what the tag reads" in answer.content.decode()


def test_the_right_tag_counts_and_is_kept(tobin, cast, visit):  # noqa: F811
    answer = say(tobin, visit, unit=cast.unit("AL641").code, tag=" a641-2210 ")

    found = identification_of(visit.vehicle)
    assert answer.status_code == 302
    assert (found.unit.code, found.grade) == ("AL641", "read from tag")
    assert {"what": "tag", "read": "A641-2210"} in found.evidence


@pytest.mark.control
def test_by_evidence_no_tag_is_asked(tobin, cast, visit):  # noqa: F811
    answer = say(tobin, visit, unit=cast.unit("AL641").code, grade="by evidence", seen="shape of the pan")

    assert answer.status_code == 302


@pytest.mark.parametrize(
    ("read", "fits"),
    [("D440-0012", True), ("d440-0012", True), ("D440-012", False), ("D440-00123", False), ("A640-1187", False)],
)
def test_the_form_of_a_tag(read, fits):
    assert units.fits_tag("D440-####", read) is fits
