"""The browser of the journeys sees what it should, and notices what a page must not do."""

from __future__ import annotations


def test_an_unknown_address_is_answered_and_its_policy_stops_inline_script(cast_for_races, page, complaints):
    answer = page.goto("/no-such-page/")

    assert answer.status in (404, 200)  # 200 where it leads to the sign-in
    page.evaluate(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.head.append(s)"
    )
    assert page.evaluate("window.ran") is None
    assert any("Content Security Policy" in said for said in complaints)
    complaints.clear()
