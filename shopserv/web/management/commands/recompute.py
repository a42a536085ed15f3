"""Compute every frozen figure again from its frozen inputs and report what comes out otherwise."""

from __future__ import annotations

import sys
from itertools import chain
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from shopserv import calc
from shopserv.billing import recomputed as bills
from shopserv.common.fields import canonical
from shopserv.common.recomputed import report
from shopserv.jobs.selectors import recomputed as jobs
from shopserv.papers import recomputed as papers
from shopserv.reminders import recomputed as reminders
from shopserv.shop.actors import clock_actor


class Command(BaseCommand):
    help = (
        "Compute all frozen figures again from their frozen inputs: options, authorizations, levels, balances, "
        "invoices, forecasts, papers. One line for each difference; ends with 1 if there is any. Nothing is written."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """The form of the report."""
        parser.add_argument("--json", action="store_true", help="the report as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        """Compute, report, and end with 1 where something differs."""
        actor = clock_actor()
        found = report(chain.from_iterable(each.recomputed(actor) for each in (jobs, bills, reminders, papers)))
        if options["json"]:
            self.stdout.write(canonical({"version": calc.VERSION, **found.as_dict()}))
        else:
            for difference in found.differences:
                self.stdout.write(str(difference))
            for row, figure, why in found.cannot:
                self.stdout.write(f"{row}, {figure}: cannot be recomputed: {why}")
            self.stdout.write(
                f"{found.figures} figures of {found.rows} rows recomputed, {len(found.differences)} differ"
                + (f", {len(found.cannot)} cannot be recomputed" if found.cannot else "")
            )
        if found.differences:
            sys.exit(1)
