"""Where our own checks of the calculation come from: makes the files of tests/calc/checks, public.json excepted.

Nothing here imports shopserv. Printed values stand here as they were read, with their source; values of reference
libraries are computed. To make the files anew, in an environment of its own:

    pip install -r tests/calc/oracles/requirements.txt
    python -m tests.calc.oracles [folder with the unpacked data sets]

The data sets are named in weather.py; without the folder their file stays as it is. The libraries are not needed to run
the checks, only to make them.
"""
