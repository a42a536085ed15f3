"""Which unit a vehicle has: replaced by stronger evidence, disputed by a technician, settled by the owner (7.13)."""

from __future__ import annotations

import pytest

from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.registry.selectors import identification_of
from shopserv.registry.services import units
from shopserv.shop.models import TrailEntry

TAG = [{"what": "tag", "read": "A641-2210"}]


def test_stronger_evidence_replaces_and_loses_nothing(cast):
    car = cast.vehicle("V-02")

    units.identify(car, actor=cast.odo, unit=cast.unit("AL641"), grade="read from tag", evidence=TAG)

    assert identification_of(car).unit.code == "AL641"
    assert sorted(car.identifications.values_list("unit__code", "state")) == [
        ("AL640", "replaced"),
        ("AL641", "counted"),
    ]
    assert TrailEntry.objects.get(what="unit identified").before == {"unit": "AL640"}


def test_weaker_evidence_is_refused(cast):
    with pytest.raises(Refusal) as refused:
        units.identify(cast.vehicle("V-01"), actor=cast.tobin, unit=cast.unit("AL641"), grade="assumed")

    assert refused.value.code == "identification.weaker"


def test_a_technician_disputes_and_the_owner_settles_on_another_unit(cast):
    row = identification_of(cast.vehicle("V-02"))
    units.dispute(row, actor=cast.odo, evidence=TAG)
    assert identification_of(cast.vehicle("V-02")).state == "disputed"
    with pytest.raises(Refusal, match="shop owner settles"):
        units.identify(cast.vehicle("V-02"), actor=cast.tobin, unit=cast.unit("AL641"), grade="read from tag")

    units.settle(row, actor=cast.maren, unit=cast.unit("AL641"), grade="read from tag", evidence=TAG)

    found = identification_of(cast.vehicle("V-02"))
    assert (found.unit.code, found.state) == ("AL641", "counted")


def test_the_owner_may_settle_on_the_unit_on_file(cast):
    row = units.dispute(identification_of(cast.vehicle("V-02")), actor=cast.odo, evidence=TAG)

    units.settle(row, actor=cast.maren, unit=cast.unit("AL640"), grade="read from tag")

    assert identification_of(cast.vehicle("V-02")).state == "counted"


def test_disputing_twice_is_refused(cast):
    row = units.dispute(identification_of(cast.vehicle("V-02")), actor=cast.odo, evidence=TAG)

    with pytest.raises(StateRefusal):
        units.dispute(row, actor=cast.pilar, evidence=TAG)


@pytest.mark.parametrize("who", ["tobin", "maren", "sam"])
def test_only_a_technician_disputes(cast, who):
    with pytest.raises(NotYours):
        units.dispute(identification_of(cast.vehicle("V-02")), actor=getattr(cast, who), evidence=TAG)


@pytest.mark.parametrize("who", ["tobin", "odo", "sam"])
def test_only_the_owner_settles(cast, who):
    row = units.dispute(identification_of(cast.vehicle("V-02")), actor=cast.odo, evidence=TAG)

    with pytest.raises(NotYours):
        units.settle(row, actor=getattr(cast, who), unit=cast.unit("AL641"), grade="read from tag")


def test_an_unknown_way_of_knowing_is_refused(cast):
    with pytest.raises(Refusal) as refused:
        units.identify(cast.vehicle("V-01"), actor=cast.tobin, unit=cast.unit("AL641"), grade="dreamt")

    assert refused.value.code == "identification.grade"
