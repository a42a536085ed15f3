"""Whose logbook is closed, whose due sums are closed too, as a page and as JSON."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("shown", ["", "?as=json"])
def test_the_due_sums_are_closed_where_the_logbook_is(signed_in, shown):
    odo = signed_in("odo")
    answers = {n: odo.get(f"/records/vehicle/{n}/").status_code for n in ("V-01", "V-02", "F-01", "F-02")}

    assert 403 in answers.values()
    for number, status in answers.items():
        due = odo.get(f"/records/vehicle/{number}/due/{shown}").status_code
        assert due == status or (status == 200 and due == 404), number
