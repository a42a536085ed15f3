PYTHON ?= python3

.PHONY: demo demo-fresh test bench

# Serve the demonstration on 127.0.0.1:8000 (PORT= changes it); what was entered before is kept.
demo:
	@$(PYTHON) scripts/demo.py

# The same, with the scenario from its beginning.
demo-fresh:
	@$(PYTHON) scripts/demo.py --fresh

# Everything there is to check, on SQLite and on PostgreSQL.
test:
	@$(PYTHON) scripts/check.py

# How much the program adds to what cannot be avoided, measured side by side; the result goes to bench/result.json.
bench:
	@$(PYTHON) scripts/measure.py
