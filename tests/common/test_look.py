"""What the filters and the grade print in a template."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from django.utils import timezone

from shopserv.common.templatetags.look import GRADES

pytestmark = pytest.mark.once


def printed(text, **context):
    return Template("{% load look %}" + text).render(Context(context))


@pytest.mark.parametrize(
    ("words", "symbol"),
    [
        ("as it should be", "ring"),
        ("watch", "half-ring"),
        ("needs your decision", "lozenge"),
        ("stop", "barred-square"),
    ],
)
def test_a_grade_has_its_shape_and_its_words(words, symbol):
    html = printed("{% grade words %}", words=words)

    assert f'<use href="#{symbol}" />' in html
    assert html.endswith(f"</svg>{words}</span>")


def test_there_are_four_grades():
    assert list(GRADES) == ["as it should be", "watch", "needs your decision", "stop"]


@pytest.mark.parametrize(
    ("hour", "html"),
    [
        (15, '<time class="time morning" datetime="2026-11-24T10:05-05:00">10:05<small>AM</small></time>'),
        (19, '<time class="time afternoon" datetime="2026-11-24T14:05-05:00">2:05<small>PM</small></time>'),
    ],
)
def test_a_time_is_light_before_noon_and_bold_after(hour, html):
    with timezone.override(ZoneInfo("America/New_York")):
        assert printed("{{ at|clock }}", at=datetime(2026, 11, 24, hour, 5, tzinfo=UTC)) == html


def test_the_day_of_a_moment_is_the_day_of_the_shop():
    at = datetime(2026, 11, 25, 2, 0, tzinfo=UTC)

    with timezone.override(ZoneInfo("America/New_York")):
        assert printed("{{ at|day }}; {{ at|moment }}", at=at) == "Nov 24, 2026; Nov 24, 2026, 9:00 PM"


def test_a_year_is_left_out_where_it_is_this_one():
    assert printed("{{ on|day:today }}", on=date(2026, 3, 1), today=date(2026, 11, 24)) == "Mar 1"


@pytest.mark.parametrize(
    ("text", "value", "figure"),
    [
        ("{{ x|money }}", 44_295, "$442.95"),
        ("{{ x|volume }}", 10_000, "10.6 qt (10.0 L)"),
        ("{{ x|volume:'metric' }}", 10_000, "10.0 L (10.6 qt)"),
        ("{{ x|volume_short }}", 10_000, "10.6 qt"),
        ("{{ x|milliliters }}", 63, "63 mL"),
        ("{{ x|temperature }}", 42_000, "107.6 °F (42.0 °C)"),
        ("{{ x|torque }}", 22_000, "16.2 lb·ft (22 N·m)"),
        ("{{ x|odometer }}", 63_180, "63,180 mi"),
        ("{{ x|percent:2 }}", 62_500, "6.25 %"),
        ("{{ x|share }}", 1_000_000, "nearly all"),
        ("{{ x|hours }}", 18, "1.8 h"),
        ("{{ x|figure:1 }}", -36, "−36.0"),
    ],
)
def test_figures_print_as_people_read_them(text, value, figure):
    assert printed(text, x=value) == figure
    assert printed(text, x=None) == "–"


def test_a_computed_figure_opens_its_sum():
    assert printed("{% computed '69.0 months' %}") == '<span class="computed">69.0 months</span>'
    assert printed("{% computed '69.0 months' '/sum/' %}") == (
        '<span class="computed">69.0 months</span><a class="shows-sum" href="/sum/" title="show the sum">=</a>'
    )


def test_the_point_of_a_big_figure_is_closed_up():
    assert printed("{{ x|big_figure }}", x="107.6") == '107<span class="point">.</span>6'
    assert printed("{{ x|big_figure }}", x="<12") == "&lt;12"
