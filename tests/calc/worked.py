"""The worked examples on the demonstration shop, and the demonstration shop itself."""

from __future__ import annotations

import json
from pathlib import Path

WORKED = json.loads((Path(__file__).parent / "worked.json").read_text("utf-8"))
DEMO = json.loads((Path(__file__).parents[2] / "fixtures" / "demo.json").read_text("utf-8"))
