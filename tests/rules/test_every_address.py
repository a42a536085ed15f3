"""Every address tried with every role, by a stranger of the other shop, and by nobody (I-24; deny by default).

The table is written from "who may what" of the job, not from the rights of the program: it is the other hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopserv.web.addresses import ADDRESSES
from shopserv.web.forms import new_key
from tests.jobs import bay_stage

pytestmark = pytest.mark.django_db
WHO = {"W": "tobin", "T": "odo", "P": "sam", "O": "maren"}  # writer, technician, parts keeper, owner
NO_WRITING = None


@dataclass(frozen=True)
class Row:
    """Who may read and who may write at one address, as letters of `WHO`; `of` says what its path names."""

    reads: str
    writes: str | None = NO_WRITING
    of: str = ""


TABLE = {
    "counter:desk": Row("WO"),
    "counter:intake": Row("WO", "WO"),
    "counter:expect": Row("WO", "WO", of="?vehicle"),
    "counter:visit": Row("WO", of="visit"),
    "counter:act": Row("", "WO", of="visit"),
    "counter:decide": Row("", "WO", of="visit"),
    "counter:identify": Row("", "WO", of="visit"),
    "counter:which": Row("WO", "WO", of="visit"),
    "counter:write": Row("", "WO", of="visit"),
    "counter:papers": Row("WO", of="visit"),
    "counter:work_sums": Row("WO", of="order"),
    "counter:work": Row("WO", "WO", of="order"),
    "counter:quote": Row("WO", "WO", of="quote"),
    "counter:link": Row("WO", "WO", of="quote"),
    "counter:revise": Row("", "WO", of="quote"),
    "counter:consent": Row("WO", "WO", of="quote"),
    "counter:room": Row("WO", of="quote"),
    "counter:course": Row("WO", "WO", of="course"),
    "counter:version": Row("WO", of="version"),
    "counter:working": Row("WO", of="option"),
    "office:due_soon": Row("WO"),
    "office:plan_reminders": Row("", "WO"),
    "office:sold_needed": Row("O"),
    "office:trail": Row("O"),
    "records:find": Row("WTPO"),
    "records:vehicle": Row("WTPO", "WO", of="vehicle"),
    "records:due_sums": Row("WTPO", of="vehicle"),
    "records:severity": Row("WTPO", "WO", of="vehicle"),
    "records:what_if": Row("WTPO", of="vehicle"),
    "records:places": Row("WTPO", "O"),
    "records:unit": Row("WTPO", of="unit"),
    "records:instruments": Row("PO", "PO"),
    "records:fluid_ahead": Row("WPO"),
    "records:fluid_sums": Row("WPO"),
    "records:paper": Row("WO", of="paper"),
    "bay:line": Row("T"),
    "bay:sheet": Row("WTO", "T", of="order"),
    "bay:press": Row("", "T", of="step"),
    "bay:finish": Row("", "T", of="step"),
    "bay:redo": Row("", "T", of="step"),
    "bay:skip": Row("T", "T", of="step"),
    "bay:stop": Row("T", "T", of="order"),
    "bay:level": Row("T", "T", of="order"),
    "bay:recheck": Row("T", "T", of="order"),
    "bay:weigh": Row("T", "T", of="order"),
    "bay:sums": Row("WTO", of="order"),
    "bay:close_out": Row("WTO", "T", of="order"),
    "bay:looks": Row("TO"),
    "bay:look": Row("TO", "TO", of="look"),
    "home": Row("WTPO"),
    "choose_shop": Row("", "WTPO"),
    "help": Row("WTPO"),
    "help_orders": Row("WTPO"),
}
OPEN = {"sign_in", "sign_out", "healthz", "readyz", "security_txt"}
BY_LINK = {"customer:decision", "customer:answer", "customer:decline", "customer:reminders", "customer:sums"}
OF_THE_SHOP = (
    "visit",
    "order",
    "quote",
    "version",
    "option",
    "course",
    "paper",
    "step",
    "look",
)  # do not exist for the other shop


@pytest.fixture
def paths(cast) -> dict[str, list[Any]]:
    """What a path of each kind names: V-01 of Brindlewick in the bay, Odo at work on it; V-12 waits for a look."""
    order, waiting = bay_stage.in_the_bay(cast), bay_stage.closed_out(cast, "A", "V-12")
    quote = order.visit.quotes.get()
    step = order.steps.get(state="now").order
    return {
        "": [],
        "visit": [order.visit.number],
        "order": [order.number],
        "step": [order.number, step],
        "look": [waiting.number],
        "quote": [quote.number],
        "version": [quote.number, 1],
        "option": [quote.number, 1, "C"],
        "course": [quote.number, "C"],
        "vehicle": ["V-01"],
        "unit": ["AL640"],
        "paper": ["quote", quote.number, 1],
    }


def signed_in(actor: Any) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(actor.staff)
    return client


def path_of(name: str, row: Row, paths: dict[str, list[Any]]) -> str:
    return f"{reverse(name)}?vehicle=V-01" if row.of == "?vehicle" else reverse(name, args=paths[row.of])


def ask(client: Client, method: str, path: str) -> Any:
    """A GET, or a POST that says nothing but its own once-key."""
    return client.get(path) if method == "get" else client.post(path, {"once": new_key()})


def test_the_table_names_every_address():
    assert set(TABLE) | OPEN | BY_LINK == set(ADDRESSES)


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("who", WHO)
def test_each_role_opens_what_is_its_own_and_nothing_else(cast, paths, who, method):
    client, wrong = signed_in(getattr(cast, WHO[who])), []

    for name, row in TABLE.items():
        status = ask(client, method, path_of(name, row, paths)).status_code
        letters = row.reads if method == "get" else row.writes
        mine = letters if letters is not NO_WRITING else ""
        if who in mine:
            expected = status in (200, 302, 409, 422)
        elif letters == "" or letters is NO_WRITING:  # there is nothing to do there by this method
            expected = status in (403, 405)
        else:
            expected = status == 403
        if not expected:
            wrong.append((name, status))

    assert wrong == []


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize(("who", "letter"), [("lise", "W"), ("jory", "T")])
def test_what_belongs_to_the_other_shop_does_not_exist(cast, paths, who, letter, method):
    client, wrong = signed_in(getattr(cast, who)), []

    for name, row in TABLE.items():
        letters = row.reads if method == "get" else row.writes or ""
        if row.of not in OF_THE_SHOP or letter not in letters:
            continue
        answer = ask(client, method, path_of(name, row, paths))
        nothing = [f"{part}9" if isinstance(part, str) and "-" in part else part for part in paths[row.of]]
        none = ask(client, method, reverse(name, args=nothing))
        if (answer.status_code, len(answer.content)) != (404, len(none.content)):
            wrong.append((name, answer.status_code, len(answer.content), len(none.content)))

    assert wrong == []


def test_nobody_is_sent_to_the_sign_in_from_everywhere(cast, paths):
    client = Client()

    answers = {name: client.get(path_of(name, row, paths)) for name, row in TABLE.items()}

    assert {
        name for name, a in answers.items() if a.status_code != 302 or "/sign-in/" not in a.headers["Location"]
    } == set()


def test_a_person_who_left_is_nobody(cast, paths):
    client = signed_in(cast.rufus)

    assert client.get("/counter/").status_code in (302, 403)
    assert client.get(reverse("bay:sheet", args=paths["order"])).status_code in (302, 403)


@pytest.mark.parametrize("name", sorted(BY_LINK))
def test_a_link_that_was_never_made_opens_nothing(name, db):
    args = ["A" * 32, "C"] if name == "customer:sums" else ["A" * 32]
    path = reverse(name, args=args)

    assert {Client().get(path).status_code, Client().post(path).status_code} <= {404, 405}
