"""The procedure sheet: every step with its cautions and blanks, the course as tubes, no price, page x of y.

What is printed is made from the snapshot alone, which no engine can change: those tests run once.
"""

from __future__ import annotations

import copy
import io
import json
import re

import pytest
from pypdf import PdfReader

from shopserv.papers import files, pages
from shopserv.papers.layout import procedure
from shopserv.papers.models import Paper
from tests.jobs import bay_stage


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def sheet(cast, *asked, **named) -> Paper:
    """The sheet of work that was cleared."""
    order = bay_stage.cleared(cast, *asked, **named)
    return Paper.objects.select_related("shop").get(kind="procedure sheet", number=order.number)


def data_of(paper: Paper) -> dict:
    return json.loads(paper.snapshot)


def said(made: bytes) -> str:
    """All words of a PDF, page by page, spaces closed up."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made)).pages)


PACKED = "3 × FEN2-B, 2 × FEN2-J"


def tubes_of(context: dict) -> list[dict]:
    return [section["tubes"] for section in context["sections"] if section.get("tubes")]


def stages_of(data: dict) -> list[dict]:
    return [step for step in data["steps"] if "level_after_ml" in step["limits"]]


@pytest.mark.once
def test_every_step_stands_with_its_cautions_limits_and_marks(cast):
    paper = sheet(cast)
    data = data_of(paper)

    text = said(files.pdf_of(paper))

    wanted = [
        "Procedure sheet BRW-W-1", "Cooler-line fluid exchange", "Alder 640, read from tag",
        "Fenmark 2 Multi, 10.6 qt (10.0 L)",
        "3 × FEN2-B, 2 × FEN2-J", "North, Odo Brackley", "fill plug: 26 lb·ft (35 N·m)",
        "window: 104 to 113 °F (40 to 45 °C)",
        "flow at least 1.6 qt (1.5 L) a minute", "second look by another person", "pump draws air, −1.7 qt",
    ]  # fmt: skip
    wanted += [procedure.for_paper(step["text"]) for step in data["steps"]]
    wanted += [blank["mark"] for step in data["steps"] for blank in step["blanks"]]
    wanted += [*data["close_out"], *map(procedure.for_paper, data["when_stopped"]), *data["foot"]]
    wanted += [f"{one['words']}: {one['effect']}" for one in data["findings_list"]]
    assert [words for words in wanted if words not in text] == []


def test_nothing_is_pressed_on_paper_and_the_fill_is_no_amount_to_pour(cast):
    data = data_of(sheet(cast))

    told = json.dumps(procedure.context(data, "7f3a91c0")["sections"], default=str, ensure_ascii=False)
    told += " ".join(procedure.context(data, "7f3a91c0")["when_stopped"])

    assert not re.search(r"\b[Pp]ress (stop|hold|finding|“)", told)
    assert "stop, write “coolant found” here and tell the office, drain nothing" in told
    assert "Write “hold” or “coolant found” here and say what was seen" in told
    assert "stop, and write each code here" in told
    assert "the whole unit holds, not to pour: " in told
    assert for_each_key_there_is_a_step(data)


def for_each_key_there_is_a_step(data):
    """Whether the bay does press where the paper writes, or the words above would hold of nothing."""
    bay = json.dumps([data["steps"], data["when_stopped"]], ensure_ascii=False)
    return bool(re.search(r"\b[Pp]ress (stop|hold|finding|“)", bay))


def test_each_caution_stands_at_its_step_or_at_the_head_of_its_stages(cast):
    data = data_of(sheet(cast))

    sections = procedure.context(data, "7f3a91c0")["sections"]

    shown = {}
    for section in sections:
        for step in section.get("steps", ()):
            shown[step["order"]] = step["cautions"]
        for row in section.get("stages", {}).get("rows", ()):
            shown[row["order"]] = section["stages"]["cautions"]
    assert list(shown) == [step["order"] for step in data["steps"]]
    assert [
        step["order"]
        for step in data["steps"]
        if not set(map(procedure.for_paper, step["cautions"])) <= set(shown[step["order"]])
    ] == []


@pytest.mark.once
def test_pages_are_numbered_and_the_same_bytes_come_again(cast):
    paper = sheet(cast)

    made = files.pdf_of(paper)

    count = len(PdfReader(io.BytesIO(made)).pages)
    assert [f"Page {n} of {count}" in said(made) for n in range(1, count + 1)] == [True] * count
    assert count <= 4
    assert files.pdf_of(Paper.objects.get(pk=paper.pk)) == made


@pytest.mark.once
def test_it_shows_no_price_and_no_customer(cast):
    text = said(files.pdf_of(sheet(cast)))

    assert "$" not in text
    assert "Thornby" not in text


@pytest.mark.once
def test_it_is_tagged_and_in_our_own_typeface_alone(cast):
    reader = PdfReader(io.BytesIO(files.pdf_of(sheet(cast))))

    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[-1].split("-")[0]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"] is not None
    assert reader.metadata.title == "Procedure sheet BRW-W-1"
    assert fonts == {"Shopserv"}


def test_the_tubes_show_the_level_after_each_stage(cast):
    data = data_of(sheet(cast))

    tubes = tubes_of(procedure.context(data, "7f3a91c0"))[0]

    levels = [step["limits"]["level_after_ml"] for step in stages_of(data)]
    tops = [float(tube.fluid_top) for tube in tubes["row"].tubes]
    full = float(tubes["row"].marks.full)
    assert len(tops) == len(levels) + 1 == 13
    assert tops[0] == full == tops[-1]
    assert [level > 0 for level in levels] == [top < full for top in tops[1:]]
    assert [tube.runs_engine for tube in tubes["row"].tubes] == [False, *[True, False] * 6]


def test_where_a_level_is_not_known_no_tubes_are_drawn_and_the_stages_stand(cast):
    data = copy.deepcopy(data_of(sheet(cast)))
    for step in stages_of(data):
        step["limits"]["level_after_ml"] = None

    context = procedure.context(data, "7f3a91c0")

    assert tubes_of(context) == []
    assert sum(len(section["stages"]["rows"]) for section in context["sections"] if "stages" in section) == 12


@pytest.mark.once
def test_a_single_stage_stands_among_the_steps(cast):
    paper = sheet(cast, "A")
    data = data_of(paper)

    context = procedure.context(data, "7f3a91c0")

    assert [
        step["order"]
        for section in context["sections"]
        for step in section.get("steps", section.get("stages", {}).get("rows"))
    ] == [step["order"] for step in data["steps"]]
    assert f"Procedure sheet {paper.number}" in said(files.pdf_of(paper))


def test_liters_stand_first_where_the_shop_says_so(cast):
    data = copy.deepcopy(data_of(sheet(cast)))
    data["shop"]["units_first"] = "metric"

    context = procedure.context(data, "7f3a91c0")

    assert context["fluids"] == [
        {"name": "Fenmark 2 Multi", "sump": "", "need": "10.0 L (10.6 qt)", "packages": PACKED}
    ]
    assert tubes_of(context)[0]["pickup"] == "−1.6 L"


def test_a_need_that_is_a_band_is_told_as_a_band(cast):
    data = copy.deepcopy(data_of(sheet(cast)))
    data["fluids"][0]["low_need_ml"] = 8_000

    assert procedure.context(data, "7f3a91c0")["fluids"][0]["need"] == "8.5 to 10.6 qt (8.0 to 10.0 L)"


def test_what_a_person_typed_is_no_markup(cast):
    paper = sheet(cast)
    data = data_of(paper)
    data["steps"][0]["text"] = "<script>x</script>"
    paper.snapshot = json.dumps(data)

    html = pages.html_of(paper)

    assert "&lt;script&gt;" in html
    assert not re.search(r"<script", html)


@pytest.mark.once
def test_two_sumps_have_their_own_packages_and_their_own_tubes(cast):
    paper = sheet(cast, "A", "V-08")
    context = procedure.context(data_of(paper), "7f3a91c0")

    text = said(files.pdf_of(paper))

    packed = {row["sump"]: (row["name"], row["packages"]) for row in context["fluids"]}
    assert set(packed) == {"clutch", "gears"}
    assert [packed["clutch"][1].split(" × ")[1][:5], packed["gears"][1].split(" × ")[1][:5]] == ["FEN6L", "FEN2-"]
    assert (context["packages"], [tubes["sump"] for tubes in tubes_of(context)]) == ("", ["clutch", "gears"])
    assert [[tube.label for tube in tubes["row"].tubes][1:] for tubes in tubes_of(context)] == [["1", "2"], ["3", "4"]]
    assert "Clutch sump: the level before, then after each of its 2 stages." in text
    assert "Gears sump: the level before, then after each of its 2 stages." in text


def test_a_sheet_filed_before_packages_had_a_sump_still_prints_them(cast):
    data = copy.deepcopy(data_of(sheet(cast)))
    for row in data["fluids"]:
        del row["packages"]

    assert procedure.context(data, "7f3a91c0")["packages"] == PACKED


def test_the_answers_of_a_choice_stand_with_the_question_and_not_in_the_mark(cast):
    context = procedure.context(data_of(sheet(cast)), "7f3a91c0")

    blanks = [blank for section in context["sections"] for step in section.get("steps", ()) for blank in step["blanks"]]

    asked = [blank for blank in blanks if "engine stop" in blank["words"]]
    assert [(blank["words"], blank["unit"]) for blank in asked] == [
        ("engine stop in reach: remote switch / second person", "")
    ]
    assert max(len(blank["unit"]) for blank in blanks) <= 3
