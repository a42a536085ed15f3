"""The small scripts of the pages, each in a browser on a page of its own."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings

pytestmark = [pytest.mark.browser, pytest.mark.once]
SCRIPTS = Path(settings.BASE_DIR) / "static" / "js"


@pytest.fixture
def bare(browser):
    """Open a page with this body and these scripts; a failing script fails the test."""
    context, failed = browser.new_context(), []

    def opened(body, *scripts):
        page = context.new_page()
        page.on("pageerror", lambda error: failed.append(str(error)))
        page.set_content(f"<!DOCTYPE html><html><head></head>{body}</html>")
        for name in scripts:
            page.add_script_tag(path=SCRIPTS / f"{name}.js")
        return page

    yield opened
    context.close()
    assert failed == []


DESK = """<body {}><input id="find" data-find><input id="other"><a id="back" href="#back" data-back>back</a>
<a class="main-act" href="#intake">Take in <span class="key">n</span></a>
<a href="#papers" data-key="p">papers</a></body>"""


def test_slash_goes_to_the_find_field_and_escape_leaves_it(bare):
    page = bare(DESK.format(""), "keys")

    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "find"
    page.keyboard.press("Escape")

    assert page.evaluate("document.activeElement.id") == ""
    assert page.input_value("#find") == ""


def test_the_key_in_the_main_act_does_it(bare):
    page = bare(DESK.format(""), "keys")

    page.keyboard.press("n")

    assert page.evaluate("location.hash") == "#intake"


def test_letters_are_letters_inside_a_field(bare):
    page = bare(DESK.format(""), "keys")

    page.focus("#other")
    page.keyboard.type("pn/")

    assert page.input_value("#other") == "pn/"
    assert page.evaluate("location.hash") == ""


def test_letters_do_nothing_for_who_switched_them_off(bare):
    page = bare(DESK.format('data-letter-keys="off"'), "keys")

    page.keyboard.press("p")
    page.keyboard.press("/")

    assert page.evaluate("location.hash") == ""
    assert page.evaluate("document.activeElement.id") == ""


def test_escape_steps_back(bare):
    page = bare(DESK.format(""), "keys")

    page.keyboard.press("Escape")

    assert page.evaluate("location.hash") == "#back"


def test_enter_does_the_main_act_but_not_instead_of_the_link_it_stands_on(bare):
    main_act = '<a class="main-act" href="#main">Offer <span class="key">Enter</span></a>'
    page = bare(f'<body><a id="link" href="#link">x</a>{main_act}', "keys")

    page.focus("#link")
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#link"
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Enter")

    assert page.evaluate("location.hash") == "#main"


LEDGER = """<body><table data-walk><tbody>{}</tbody></table></body>""".format(
    "".join(
        f'<tr data-line="{n}"><td><a href="#open-{n}" data-open>{n}</a><input type="checkbox" id="mark-{n}"></td></tr>'
        for n in (1, 2, 3)
    )
)


def standing(page):
    return page.evaluate("document.querySelector('tr.under-cursor')?.dataset.line")


def test_arrows_and_letters_walk_the_ledger_and_stop_at_its_ends(bare):
    page = bare(LEDGER, "ledger")

    page.keyboard.press("ArrowDown")
    assert standing(page) == "1"
    for key in ("j", "j", "j"):
        page.keyboard.press(key)
    assert standing(page) == "3"
    page.keyboard.press("k")
    assert standing(page) == "2"
    page.keyboard.press("Enter")

    assert page.evaluate("location.hash") == "#open-2"


def test_the_space_bar_marks_the_line_and_stays_on_it(bare):
    page = bare(LEDGER, "ledger")

    page.keyboard.press("ArrowDown")
    page.keyboard.press(" ")

    assert page.is_checked("#mark-1")
    assert standing(page) == "1"


STEPPER = """<body><input id="t" value="107.5" data-least="90" data-most="107.8"><output data-shows="t">107.5</output>
<button id="more" data-step="0.1" data-for="t">+</button>
<button id="less" data-step="-1" data-for="t">-</button></body>"""


def test_ten_steps_of_a_tenth_are_one_and_limits_hold(bare):
    page = bare(STEPPER, "steppers")

    page.click("#less")
    assert page.input_value("#t") == "106.5"
    for _ in range(10):
        page.click("#more")
    assert page.input_value("#t") == "107.5"
    for _ in range(9):
        page.click("#more")

    assert page.input_value("#t") == "107.8"
    assert page.text_content("output") == "107.8"


def test_a_form_is_sent_once_however_often_it_is_pressed(bare):
    page = bare('<body><form method="post"><button>go</button></form></body>', "once")
    page.evaluate(
        """() => { window.sent = 0;
        document.addEventListener("submit", event => {
            if (!event.defaultPrevented) window.sent += 1;
            event.preventDefault(); }); }"""
    )

    for _ in range(3):
        page.click("button")

    assert page.evaluate("window.sent") == 1
