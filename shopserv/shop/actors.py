"""Who is asking: one of the staff in one shop, the holder of a link, or the clock."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.shop import rights
from shopserv.shop.models import CustomerLink, RoleGrant, Shop, Staff

ROLE_WORDS = {
    "owner": "shop owner",
    "writer": "service writer",
    "technician": "technician",
    "parts": "parts keeper",
    "second look": "second look",
}


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts, where, in which roles.

    roles   of writer, technician, parts, owner, second look for staff; {"customer"} for a link; {"clock"}
    """

    shop: Shop | None
    roles: frozenset[str]
    staff: Staff | None = None
    link: CustomerLink | None = None
    from_where: str = ""
    request_id: str = ""
    words: str = field(default="")

    @property
    def name(self) -> str:
        """The name that records carry."""
        if self.staff:
            return self.staff.name
        return self.link.holder if self.link else (self.words or "clock")

    @property
    def key(self) -> str:
        """Who it is, for once-keys."""
        if self.staff:
            return f"staff {self.staff.pk}"
        return f"link {self.link.pk}" if self.link else self.name

    @property
    def role_words(self) -> str:
        """The roles in the words of the screen, the leading one first."""
        return ", ".join(words for role, words in ROLE_WORDS.items() if role in self.roles and role != "second look")

    def may(self, right: str) -> bool:
        """Whether one of the roles carries `right` (a key of rights.RIGHTS)."""
        return bool(self.roles & rights.RIGHTS[right])

    def must(self, right: str) -> None:
        """Refuse who may not.

        raises  NotYours
        """
        if not self.may(right):
            raise NotYours(f"{right}: not for {self.role_words or self.name}")

    @property
    def house(self) -> Shop:
        """The shop, for deeds that belong to one.

        raises  NotYours if the actor stands in none
        """
        if self.shop is None:
            raise NotYours("no shop chosen")
        return self.shop


def roles_of(staff: Staff, shop: Shop) -> frozenset[str]:
    """The roles and grants of `staff` at `shop` today: of each kind the newest row that has begun."""
    today = clock.today(shop.time_zone)
    newest: dict[str, bool] = {}
    rows = RoleGrant.objects.filter(staff=staff, shop=shop, from_on__lte=today).order_by("from_on")
    for grant, given in rows.values_list("grant", "given"):
        newest[grant] = given
    return frozenset(grant for grant, given in newest.items() if given)


def staff_actor(staff: Staff, shop: Shop, *, from_where: str = "", request_id: str = "") -> Actor:
    """The actor for `staff` at `shop`; without a role for one who has left."""
    roles = roles_of(staff, shop) if staff.is_active else frozenset()
    return Actor(shop=shop, roles=roles, staff=staff, from_where=from_where, request_id=request_id)


def link_actor(link: CustomerLink, *, from_where: str = "", request_id: str = "") -> Actor:
    """The actor for the holder of a customer's link; it opens one paper and nothing beside it."""
    return Actor(shop=link.shop, roles=frozenset({"customer"}), link=link, from_where=from_where, request_id=request_id)


def clock_actor(shop: Shop | None = None) -> Actor:
    """Time alone."""
    return Actor(shop=shop, roles=frozenset({"clock"}), words="clock")


def loader_actor(shop: Shop | None = None) -> Actor:
    """Whoever loads data that came from elsewhere: all roles, named so on the trail."""
    every = frozenset({"writer", "technician", "parts", "owner", "second look", "clock"})
    return Actor(shop=shop, roles=every, words="loading")
