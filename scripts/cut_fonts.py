#!/usr/bin/env python3
"""Cut the typeface of pages and papers to the letters that we print: six small woff2 files in static/fonts/.

The cut files are in the repository, so that nothing depends on this at set-up; run it again to change the letters. The
source is Source Sans Pro as the package `font-source-sans-pro` carries it, under the SIL Open Font License 1.1. That
license keeps the name "Source" for the original, so the cut family is called Shopserv Sans.

    cut_fonts.py [DejaVuSans.ttf]

Names that people have in other scripts are set in one further face on papers, cut from DejaVu Sans 2.37 (Debian:
fonts-dejavu-core, its license beside the files). `letters.txt` tells the program which letters a paper can set.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import font_source_sans_pro
from fontTools import subset
from fontTools.ttLib import TTFont

SOURCE = Path(font_source_sans_pro.__file__).parent / "files"
TARGET = Path(__file__).resolve().parent.parent / "static" / "fonts"
WEIGHTS = {
    "300": "Light",
    "400": "Regular",
    "600": "Semibold",
    "300-italic": "LightIt",
    "400-italic": "It",
    "600-italic": "SemiboldIt",
}
LETTERS = [
    range(0x20, 0x7F),
    range(0xA0, 0x250),  # Latin of the Americas, of Europe and beyond
    range(0x1E00, 0x1F00),  # Vietnamese, Welsh
    range(0x300, 0x330),  # accents by themselves
    range(0x2010, 0x2028),
    range(0x2030, 0x203B),
    [0x2044, 0x20AC, 0x2122, 0x2153, 0x2154],
    range(0x2190, 0x2194),
    [0x2206, 0x2212, 0x221A, 0x2248, 0x2260, 0x2264, 0x2265, 0x03BC, 0x03A9, 0x02BC, 0x02DC],
    range(0x215B, 0x215F),
    range(0x2070, 0x208A),  # exponents and indexes
]
FURTHER_SOURCE = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
FURTHER_LETTERS = [
    [0x20, 0xA0, *range(0x27, 0x30), *range(0x200C, 0x2010)],  # what stands between two words
    range(0x300, 0x600),  # accents, Greek, Cyrillic, Armenian, Hebrew
    range(0x600, 0x700),  # Arabic
    range(0x750, 0x780),
    range(0x10A0, 0x1100),  # Georgian
    range(0x1C90, 0x1CC0),
    range(0xE80, 0xF00),  # Lao
    range(0x2010, 0x2066),
    range(0x2600, 0x2700),
    range(0x1F600, 0x1F650),  # faces, as far as it has them
]
FEATURES = [
    "kern",
    "mark",
    "mkmk",
    "ccmp",
    "locl",
    "frac",
    "sups",
    "subs",
]  # its figures are tabular and lining as they are


def cut(weight: str, name: str) -> Path:
    """Write one weight with our letters, under our own name."""
    options = subset.Options(layout_features=FEATURES, flavor="woff2", hinting=False, notdef_outline=True)
    options.recalc_timestamp = False  # the same bytes when it is run again
    font = TTFont(SOURCE / f"SourceSansPro-{name}.ttf", recalcTimestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[code for letters in LETTERS for code in letters])
    cutter.subset(font)
    rename(font, name)
    path = TARGET / f"shopserv-sans-{weight}.woff2"
    font.flavor = "woff2"
    font.save(path)
    return path


def cut_further(source: Path) -> Path:
    """Write the one face with the letters of other scripts, with all that joins and places them."""
    options = subset.Options(layout_features=["*"], flavor="woff2", hinting=False, notdef_outline=True)
    options.recalc_timestamp = False
    font = TTFont(source, recalcTimestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[code for letters in FURTHER_LETTERS for code in letters])
    cutter.subset(font)
    rename(font, "Further")
    path = TARGET / "shopserv-sans-further.woff2"
    font.flavor = "woff2"
    font.save(path)
    return path


def ranges(codes: set[int]) -> list[str]:
    """`codes` as lines "0020-007e", one of them for each run."""
    lines: list[list[int]] = []
    for code in sorted(codes):
        if lines and lines[-1][1] == code - 1:
            lines[-1][1] = code
        else:
            lines.append([code, code])
    return [f"{first:04x}-{last:04x}" for first, last in lines]


def rename(font: TTFont, style: str) -> None:
    """Give the cut font our name; keep copyright (0) and license (13, 14)."""
    ours = {
        1: f"Shopserv Sans {style}",
        2: "Regular",
        3: f"shopserv-sans-{style}",
        4: f"Shopserv Sans {style}",
        6: f"ShopservSans-{style}",
        16: "Shopserv Sans",
        17: style,
    }
    for record in list(font["name"].names):
        if record.nameID in ours:
            font["name"].setName(ours[record.nameID], record.nameID, record.platformID, record.platEncID, record.langID)
        elif record.nameID not in (0, 13, 14):
            font["name"].removeNames(nameID=record.nameID)


def main() -> None:
    """Cut all weights and lay the license beside them."""
    TARGET.mkdir(parents=True, exist_ok=True)
    for weight, name in WEIGHTS.items():
        path = cut(weight, name)
        print(f"{path.name}: {path.stat().st_size:,} bytes")
    further = cut_further(Path(sys.argv[1]) if len(sys.argv) > 1 else FURTHER_SOURCE)
    print(f"{further.name}: {further.stat().st_size:,} bytes")
    whole = [set(TTFont(TARGET / f"shopserv-sans-{weight}.woff2").getBestCmap()) for weight in WEIGHTS]
    known = set.intersection(*whole) | set(TTFont(further).getBestCmap())
    (TARGET / "letters.txt").write_text("\n".join(ranges(known)) + "\n", "utf-8")
    shutil.copyfile(SOURCE / "LICENSE.txt", TARGET / "OFL.txt")


if __name__ == "__main__":
    main()
