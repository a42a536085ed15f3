#!/usr/bin/env python3
"""`make bench`: the program beside what cannot be avoided, in one run. Words behind it go to `python -m bench`."""

from __future__ import annotations

import os
import sys

from prepare import PYTHON, ROOT, prepare

if __name__ == "__main__":
    prepare(for_tests=True)
    os.chdir(ROOT)
    os.execv(PYTHON, [str(PYTHON), "-m", "bench", *sys.argv[1:]])
