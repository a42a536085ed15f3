"""A PDF is made from HTML alone: the same bytes, readable by people and machines, and by a process held short."""

from __future__ import annotations

import http.server
import io
import subprocess
import sys
import threading
import time

import pytest
from pypdf import PdfReader

from shopserv.papers import press
from shopserv.papers.render import CannotRender, render_pdf

pytestmark = pytest.mark.once

PAGE = """<!doctype html><html lang="en"><head><title>Invoice BRW-2026-0077</title>
<meta name="dcterms.created" content="2026-11-24"></head><body><h1>Invoice BRW-2026-0077</h1>
<p>Total <b>$442.95</b>, 7.40 L at 40 °C</p><h2 style="break-before: page">Terms</h2><p>Page two.</p></body></html>"""


def reader(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made))


@pytest.fixture(scope="module")
def made() -> bytes:
    return render_pdf(PAGE)


def test_the_same_html_gives_the_same_bytes_at_another_second(made):
    time.sleep(1.1)  # the only way to another second of the clock that the process sees

    assert render_pdf(PAGE) == made


def test_text_can_be_selected_and_each_page_says_which_of_how_many(made):
    pages = [page.extract_text() for page in reader(made).pages]

    assert len(pages) == 2
    assert "Total $442.95, 7.40 L at 40 °C" in pages[0]
    assert ["Page 1 of 2" in pages[0], "Page 2 of 2" in pages[1]] == [True, True]


def test_the_file_is_tagged_and_says_its_language_and_title(made):
    # ISO 14289-1 (PDF/UA-1), 7.1 and 7.2: marked, structure tree, title shown, language
    root = reader(made).trailer["/Root"]

    assert root["/MarkInfo"]["/Marked"] is not None
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert reader(made).metadata.title == "Invoice BRW-2026-0077"


def test_only_our_own_typeface_is_in_it(made):
    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[-1]
        for page in reader(made).pages
        for font in page["/Resources"]["/Font"].values()
    }

    assert fonts
    assert [name for name in fonts if not name.replace("-", "").startswith("ShopservSans")] == []


@pytest.mark.parametrize(("size", "points"), [("letter", (612, 792)), ("a4", (595, 842))])
def test_the_page_is_letter_or_a4(size, points):
    # 8.5 x 11 in; ISO 216: 210 x 297 mm, at 72 points an inch
    box = reader(render_pdf(PAGE, size=size)).pages[0].mediabox

    assert (round(box.width), round(box.height)) == points


def test_the_words_of_the_page_number_may_be_spanish():
    text = reader(render_pdf(PAGE, page_words=("Página ", " de "))).pages[1].extract_text()

    assert "Página 2 de 2" in text


class Listener(http.server.BaseHTTPRequestHandler):
    asked: list[str]

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_response(404)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def listening():
    """A server on this machine that notes who asks: (address, list of paths asked for)."""
    Listener.asked = []
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Listener) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/picture.png", Listener.asked
        server.shutdown()
        thread.join()


def test_a_paper_that_asks_the_network_is_refused_and_nothing_is_asked(listening):
    address, asked = listening

    with pytest.raises(CannotRender, match="not in the pack"):
        render_pdf(f'<html lang="en"><title>x</title><img src="{address}" alt=""></html>')

    assert asked == []


@pytest.mark.control
def test_without_our_fetcher_and_in_the_machines_network_the_same_page_is_asked_for(listening):
    address, asked = listening
    code = f"from weasyprint import HTML; HTML(string='<img src=\"{address}\">').write_pdf()"

    subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=60, check=False)

    assert asked == ["/picture.png"]


@pytest.mark.parametrize("wanted", ["file:///etc/passwd", "pack:fonts/../settings.py", "data:image/png;base64,AA"])
def test_no_file_but_those_of_the_pack_can_be_had(wanted):
    with pytest.raises(CannotRender, match="not in the pack"):
        render_pdf(f'<html lang="en"><title>x</title><img src="{wanted}" alt=""></html>')


def test_a_paper_that_takes_too_long_is_given_up_by_the_clock():
    begun = time.monotonic()

    with pytest.raises(CannotRender, match="not done after"):
        render_pdf(PAGE, wall_clock_s=0.05)

    assert time.monotonic() - begun < 5


def test_a_paper_that_takes_too_much_of_the_processor_is_ended_by_the_system():
    rows = "".join(f"<tr><td>{number}</td><td>line</td></tr>" for number in range(20_000))

    with pytest.raises(CannotRender, match=r"ended with -(9|24)"):  # SIGKILL or SIGXCPU
        render_pdf(f'<html lang="en"><title>x</title><table>{rows}</table></html>', cpu_s=2)


def test_a_paper_that_takes_too_much_memory_is_ended(made):
    with pytest.raises(CannotRender, match="ended with"):
        render_pdf(PAGE, memory_mb=60)


def test_the_pack_holds_fonts_and_style_sheets_by_name():
    names = set(press.pack())

    assert {"pack:fonts/shopserv-sans-400.woff2", "pack:papers/sheet.css"} <= names
