"""A job that is cleared and not yet begun opens where the work begins."""

from __future__ import annotations

from tests.jobs import bay_stage as bays


def test_a_job_before_its_start_opens_at_its_first_step(odo, cast):
    order = bays.cleared(cast)

    text = " ".join(odo.get(f"/bay/{order.number}/").content.decode().split())

    assert "Set the vehicle on the lift" in text
    assert f"Step 1 of {order.steps.count()}" in text
