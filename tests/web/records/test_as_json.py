"""Sums are asked for as a page or as JSON; another form is refused like any word that cannot be meant."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("asked", ["xml", "JSON"])
def test_another_form_than_json_is_refused(signed_in, asked):
    answer = signed_in("tobin").get("/records/vehicle/V-01/due/", {"as": asked})

    assert answer.status_code == 400
    assert "json" in answer.content.decode()


@pytest.mark.control
@pytest.mark.parametrize(("asked", "kind"), [({}, "text/html"), ({"as": "json"}, "application/json")])
def test_page_and_json_are_given(signed_in, asked, kind):
    answer = signed_in("tobin").get("/records/vehicle/V-01/due/", asked)

    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith(kind)
