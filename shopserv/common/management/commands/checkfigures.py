"""Run a file of reference checks over the calculation."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from shopserv.calc import figures

ALL_AGREE, SOME_FAIL, NO_CHECKS = 0, 1, 2


class Command(BaseCommand):
    """Reads the file and the calculation, no database and no network. Exit status 0 only if all agree."""

    help = "Runs a file of reference checks; exit status 0 if all agree, 1 if some do not, 2 if it is no such file."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--file", required=True, help="the checks, JSON of contract 1")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            document = figures.load(Path(options["file"]).read_bytes())
        except (OSError, figures.BadDocument) as fault:
            self.stdout.write(" ".join(str(fault).split()))
            sys.exit(NO_CHECKS)
        report = figures.run_checks(document)
        for line in report.lines():
            self.stdout.write(line)
        if report.failures:
            sys.exit(SOME_FAIL)
