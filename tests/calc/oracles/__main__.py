"""Make the files of checks."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.calc.oracles import exchange, money, oil, severity, units, vehicles, water, weather

for each in (units, water, oil, exchange, vehicles, money, severity):
    each.write()
if len(sys.argv) > 1:
    weather.write(Path(sys.argv[1]))
