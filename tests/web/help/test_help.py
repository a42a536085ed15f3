"""The help: eight steps, words, cautions, and a table of sources that is the calculation's own."""

from __future__ import annotations

import re

import pytest

from shopserv.calc import moisture, oil
from shopserv.jobs import bay_words
from shopserv.jobs.findings import FINDINGS
from shopserv.web.help import words
from shopserv.web.help.checked import checked
from shopserv.web.help.sources import first_sentence, in_words, source_of, sources
from tests.web.office.conftest import browser

PAGE = "/help/"


def text_of(answer) -> str:
    """The words of a page, spaces closed up and entities read."""
    plain = re.sub(r"<[^>]+>", " ", answer.content.decode())
    for entity, sign in (("&#x27;", "'"), ("&quot;", '"'), ("&gt;", ">"), ("&lt;", "<"), ("&amp;", "&")):
        plain = plain.replace(entity, sign)
    return " ".join(plain.split())


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["maren", "tobin", "odo", "sam", "lise"])
def test_all_of_the_staff_may_read_it(cast, who):
    assert browser(getattr(cast, who)).get(PAGE).status_code == 200


@pytest.mark.django_db
def test_a_stranger_is_sent_to_the_sign_in(client, cast):
    assert client.get(PAGE).headers["Location"] == "/sign-in/?next=/help/"


@pytest.mark.django_db
def test_it_says_steps_words_and_every_caution(cast):
    text = text_of(browser(cast.tobin).get(PAGE))

    assert len(words.DAY) == 9
    wanted = [str(how) for _, _, how in words.DAY] + [str(means) for _, means in words.GLOSSARY]
    wanted += [*bay_words.FOOT, *bay_words.WHEN_STOPPED]
    wanted += [f"{one.words}: {one.effect}" for one in FINDINGS.values()]
    wanted += [row.source for row in sources() if not row.see]
    assert [words_ for words_ in wanted if " ".join(words_.split()) not in text] == []


@pytest.mark.django_db
def test_a_step_leads_only_where_the_reader_may_go(cast):
    writer, technician = (browser(actor).get(PAGE).content.decode() for actor in (cast.tobin, cast.odo))

    assert '<a href="/counter/">Plan</a>' in writer
    assert '<a href="/counter/">Plan</a>' not in technician
    assert '<a href="/bay/">Bay sheet</a>' in technician
    assert '<a href="/bay/">Bay sheet</a>' not in writer


def test_the_table_is_what_the_docstrings_say():
    rows = {row.name: row for row in sources()}

    assert rows["oil_volume_correction"].source == source_of(oil.oil_volume_correction.__doc__.replace("\n    ", "\n"))
    assert rows["oil_volume_correction"].gives == first_sentence(oil.oil_volume_correction.__doc__).replace("_", " ")
    assert "IAPWS R7-97(2012)" in rows["saturation_vapor_pressure"].source
    assert rows["saturation_vapor_pressure"].module == moisture.__name__.rpartition(".")[2]


def test_what_points_to_another_source_finds_it():
    names = {row.name for row in sources()}

    assert [row.name for row in sources() if row.see and row.see not in names] == []
    assert {row.see for row in sources()} >= {"oil_volume_correction", "moisture_factor"}


def test_what_has_no_source_outside_says_so():
    ours = {row.name for row in sources() if row.is_ours}

    assert {"thermal_factor", "odometer_check", "moisture_factor"} <= ours
    assert "boiling_point" not in ours


def test_an_entry_is_read_to_its_end_and_no_further():
    doc = "Gives `some_thing`.\n\na   in mL\nsource   one book,\n         chapter two\ncheck   1: 2"

    assert source_of(doc) == "one book, chapter two"
    assert source_of("Gives nothing.\n\nsources   where inputs come from") == ""
    assert first_sentence(doc) == "Gives some thing."


def test_names_of_the_program_are_told_as_words():
    said = in_words(
        "calc.oil.weighed_volume, `left_over`; by oil.cool_down_time and calc.stage_levels; 2.5 L_i. See `pace`."
    )

    assert said == "weighed volume, left over; by cool down time and the part “stage levels”; 2.5 L_i. See pace."
    code = re.compile(r"`|\bcalc\.|[a-z]_[a-z]|[A-Z]_[A-Z]|\bB-\d")
    told = [words_ for row in sources() for words_ in (row.gives, row.source)]
    assert [words_ for words_ in told if code.search(words_)] == []
    assert code.search("AVERAGE_KM_A_YEAR")
    assert code.search("see left_over")


def test_only_a_program_is_called_a_reference_library():
    """A program is known by its version; Python's own arithmetic has that of the program that runs it."""
    programs = [work.name for work in checked().works if work.kind == "library"]

    assert len(programs) > 5
    assert [name for name in programs if not re.search(r" \d+\.\d+", name) and not name.startswith("Python's ")] == []
    assert checked().works[0].kind_words == "published"
