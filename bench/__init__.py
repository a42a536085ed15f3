"""Ratios of the program to what cannot be avoided, measured side by side in one run: `make bench`.

Each module here with a function `figures(is_small)` adds its figures; `measure` says how they are timed.
"""
