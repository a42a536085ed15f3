"""What a share of new fluid says it covers."""

from __future__ import annotations

import pytest

from shopserv.common import fresh

pytestmark = pytest.mark.once

FILL = ("capacity_ml",)


@pytest.mark.parametrize(
    ("over", "said"),
    [
        (None, "from stirred to plug flow"),
        ((), "from stirred to plug flow"),
        (FILL, "from stirred to plug flow, fill anywhere in its band"),
        (("capacity_ml", "sump_ml"), "from stirred to plug flow, fill and sump anywhere in its band"),
        (("pickup_ml", "drained"), "from stirred to plug flow, pickup and drain anywhere in its band"),
        (("sumps",), "the sump with the smaller and with the larger share"),
    ],
)
def test_what_a_share_covers_is_said_in_a_few_words(over, said):
    assert fresh.covers(over) == said


@pytest.mark.parametrize(
    ("over", "said"),
    [
        (("capacity_ml", "drained"), "from stirred to plug flow, fill and drains 20 % off either way"),
        (
            ("capacity_ml", "sump_ml", "drained"),
            "from stirred to plug flow, fill and drains 20 % off either way, sump anywhere in its band",
        ),
        ((), "from stirred to plug flow"),  # nothing was moved, so nothing is claimed
    ],
)
def test_a_doubt_of_a_fifth_is_said(over, said):
    assert fresh.covers(over, is_doubted=True) == said


@pytest.mark.parametrize(
    ("course", "said"),
    [
        (
            {"kind": "batches", "over": []},
            "estimate: less if new and old fluid mix on the way, more if the new pushes the old out",
        ),
        (
            {"kind": "one pump", "over": ["capacity_ml"]},
            "estimate: less if new and old fluid mix on the way, more if the new pushes the old out, "
            "and the transmission may hold more or less",
        ),
        ({"kind": "drains", "over": ["capacity_ml"]}, "estimate: it may hold more or less"),
        ({"kind": "drains"}, "estimate"),
        ({"kind": "sumps", "over": ["sumps"]}, "estimate: the part that gets less and the part that gets more"),
    ],
)
def test_a_customer_reads_it_plainly(course, said):
    share = fresh.share_of(840_000, 960_000, course)

    assert (share.figure, share.plainly) == ("84 to 96 %", said)


def test_a_share_that_is_not_known_covers_nothing():
    assert fresh.share_of(None, None, {}) == fresh.Share("not known", "", "")
