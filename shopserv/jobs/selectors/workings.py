"""The workings behind the figures of an option, of an authorization and of the bay, for who may see them."""

from __future__ import annotations

from django.http import Http404

from shopserv.calc.working import Working
from shopserv.jobs.models import Option
from shopserv.jobs.selectors import quotes as reads
from shopserv.jobs.selectors.room_left import room_of
from shopserv.jobs.workings.course import course_working
from shopserv.jobs.workings.lasting import bought_workings, limit_working, room_working
from shopserv.jobs.workings.prices import Prices, margin_working
from shopserv.shop.actors import Actor


def workings_of(option: Option, *, with_margin: bool, with_cost: bool) -> dict[str, Working]:
    """Every working of an option by the anchor that a page points at.

    with_margin, with_cost   only for who may see them
    """
    shop = option.version.quote.shop
    currency = shop.business.currency
    layout = option.version.inputs.get("layout", {})
    found = {}
    if option.course:
        found["course"] = course_working(option, layout, shop.units_first)
    found |= Prices(option, currency=currency, with_cost=with_cost).all()
    found |= bought_workings(option, currency)
    if with_margin:
        found["margin"] = margin_working(option, currency, with_cost=with_cost)
    return found


def option_workings(actor: Actor, number: str, version: int, letter: str) -> tuple[Option, dict[str, Working]]:
    """One option with its workings as the actor may see them; Http404 for any other.

    The holder of a link sees neither cost nor margin; margin is for the owner and for who wrote the version.
    """
    found = reads.version_for(actor, number, version)
    option = next((one for one in found.options.all() if one.letter == letter), None)
    if option is None:
        raise Http404("no such option")
    option.version = found
    if actor.link is not None:
        return option, workings_of(option, with_margin=False, with_cost=False)
    own = actor.may("see cost") or (actor.may("see own margin") and found.made_by == actor.staff)
    shown = workings_of(option, with_margin=own, with_cost=actor.may("see cost"))
    counted = found.quote.authorizations.filter(state="counted", option=option).select_related(
        "option__version__adds_to", "quote"
    )
    if yes := counted.first():
        currency = found.quote.shop.business.currency
        shown["limit"] = limit_working(yes, currency)
        shown["room"] = room_working(room_of(yes), currency, found.calc_version)
    return option, shown
