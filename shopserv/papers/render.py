"""From the HTML of a paper to its PDF, in a process of its own that is held short."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from shopserv.papers import press

WALL_CLOCK_S = 30
CPU_S = 20
MEMORY_MB = 1024
# no folder of the machine's: a paper looks the same on a machine with other fonts, or with none
NO_FONTS = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><cachedir>{folder}</cachedir></fontconfig>"""


class CannotRender(RuntimeError):
    """The PDF could not be made. Its words are for the log and name no person; the paper itself is safe."""


def render_pdf(
    html: str,
    *,
    size: str = "letter",
    page_words: tuple[str, str] = ("Page ", " of "),
    cpu_s: int = CPU_S,
    wall_clock_s: float = WALL_CLOCK_S,
    memory_mb: int = MEMORY_MB,
) -> bytes:
    """The PDF of a whole HTML document: tagged (PDF/UA-1), selectable, the same bytes for the same HTML.

    html        with `<html lang>` and `<title>`; style sheets and pictures by `pack:papers/<name>` alone.
                Its dates come from `<meta name="dcterms.created">`, never from the clock.
    size        "letter" or "a4"
    page_words  what stands before and between the numbers of the page
    cpu_s, wall_clock_s, memory_mb   limits of the process: seconds, seconds, megabytes
    returns     bytes of the file
    raises      CannotRender where it asks for another file, or takes too long or too much memory
    source      reliability promise on PDFs: 1 GB, 20 s of processor, 30 s by the clock, no network
    """
    if size not in press.PAGES:
        raise ValueError(f"size is {size!r}; it may be letter or a4")
    order = {"html": html, "size": size, "words": list(page_words), "cpu_s": cpu_s, "memory_mb": memory_mb}
    with tempfile.TemporaryDirectory(prefix="shopserv-press-") as folder:
        try:
            done = subprocess.run(  # noqa: S603 (our own interpreter and file)
                [sys.executable, "-I", "-W", "ignore", str(Path(press.__file__))],
                input=json.dumps(order).encode(),
                capture_output=True,
                timeout=wall_clock_s,
                cwd=folder,
                env=_surroundings(folder),
            )
        except subprocess.TimeoutExpired as error:
            raise CannotRender(f"not done after {wall_clock_s} s") from error
    if done.returncode == press.REFUSED:
        raise CannotRender("the paper asked for a file that is not in the pack")
    if done.returncode or not done.stdout.startswith(b"%PDF-"):
        raise CannotRender(f"ended with {done.returncode}: {_last_class(done.stderr)}")
    return done.stdout


def _surroundings(folder: str) -> dict[str, str]:
    """The environment of the process: nothing of ours, no secret, no clock."""
    config = Path(folder) / "fonts.conf"
    config.write_text(NO_FONTS.format(folder=folder), "utf-8")
    fixed = {"SOURCE_DATE_EPOCH": "0", "PYTHONHASHSEED": "0", "LANG": "C.UTF-8"}
    return {"PATH": "/usr/bin:/bin", "HOME": folder, "TMPDIR": folder, "FONTCONFIG_FILE": str(config), **fixed}


def _last_class(said: bytes) -> str:
    """The class of the error that ended the process; its message may quote what a person typed."""
    lines = said.decode("utf-8", "replace").strip().splitlines()
    return lines[-1].split(":")[0] if lines else "no words"
