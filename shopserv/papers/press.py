"""The process that turns one page of HTML into one PDF, and can do nothing else.

It is started by `render.py`, reads a JSON object from standard input and writes the PDF to standard output. Text that
people typed reaches the layout engine, so this process gets little memory, little time, no network and no file but
those of our own pack. It knows nothing of Django.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import resource
import sys
from pathlib import Path
from typing import Any

STATIC = Path(__file__).resolve().parents[2] / "static"
KINDS = {".woff2": "font/woff2", ".css": "text/css", ".svg": "image/svg+xml", ".png": "image/png"}
MEGABYTE = 1 << 20
NEW_USER, NEW_NETWORK = 0x10000000, 0x40000000  # CLONE_NEWUSER, CLONE_NEWNET of sched.h
PAGES = {"letter": "Letter", "a4": "A4"}
REFUSED = 3  # how this process ends when a page asks for what is not in the pack


def limit(memory_mb: int, cpu_s: int) -> None:
    """Take memory, processor time and files away from this process, for good."""
    resource.setrlimit(resource.RLIMIT_AS, (memory_mb * MEGABYTE,) * 2)
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
    resource.setrlimit(resource.RLIMIT_FSIZE, (64 * MEGABYTE,) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def leave_the_network() -> bool:
    """Step into a network of one's own, without any device; False where the system does not let us."""
    unshare: Any = getattr(ctypes.CDLL(None), "unshare", None)
    return bool(unshare) and unshare(NEW_NETWORK if os.geteuid() == 0 else NEW_USER | NEW_NETWORK) == 0


def pack() -> dict[str, Path]:
    """The files that a paper may use, by name: `pack:fonts/…` and `pack:papers/…`."""
    folders = (STATIC / "fonts", STATIC / "papers")
    return {
        f"pack:{folder.name}/{path.name}": path
        for folder in folders
        for path in sorted(folder.glob("*"))
        if path.suffix in KINDS
    }


def fetcher() -> Any:
    """What WeasyPrint asks for files: it knows the pack by name and refuses everything else."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse  # slow import: after the limits

    known = pack()

    class Pack(URLFetcher):
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if url not in known:
                raise FatalURLFetchingError("a paper asked for a file that is not in the pack")
            path = known[url]
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": KINDS[path.suffix]})

    return Pack()


def page_rule(size: str, words: list[str]) -> str:
    """The size of the page, and "Page 2 of 3" in the given words."""
    before, between = (json.dumps(word, ensure_ascii=False) for word in words)
    number = f"{before} counter(page) {between} counter(pages)"
    return f"@page {{ size: {PAGES[size]}; @bottom-right {{ content: {number}; }} }}"


def press(html: str, size: str, words: list[str]) -> bytes:
    """The PDF of one page of HTML: tagged, with our typeface, and the same bytes each time."""
    from weasyprint import CSS, HTML  # slow import: after the limits
    from weasyprint.text.fonts import FontConfiguration

    files, fonts = fetcher(), FontConfiguration()
    sheets = [
        CSS(string='@import url("pack:papers/sheet.css");', base_url="pack:", url_fetcher=files, font_config=fonts),
        CSS(string=page_rule(size, words), url_fetcher=files, font_config=fonts),
    ]
    made: bytes = HTML(string=html, base_url="pack:", url_fetcher=files).write_pdf(
        stylesheets=sheets,
        font_config=fonts,
        pdf_tags=True,
        pdf_variant="pdf/ua-1",
        pdf_identifier=hashlib.sha256(html.encode()).digest()[:16],
    )
    return made


def main() -> int:
    """Read the order, limit ourselves, print."""
    order = json.load(sys.stdin)
    limit(order["memory_mb"], order["cpu_s"])
    leave_the_network()
    from weasyprint.urls import FatalURLFetchingError  # slow import: after the limits

    try:
        made = press(order["html"], order["size"], order["words"])
    except FatalURLFetchingError:  # a BaseException: it would pass every `except Exception` above us
        return REFUSED
    sys.stdout.buffer.write(made)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
