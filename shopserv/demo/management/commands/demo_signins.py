"""Print one sign-in for each role of the demonstration."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from shopserv.demo.house import demo_pin
from shopserv.shop.models import RoleGrant

ROLES = ("owner", "writer", "technician", "parts")


class Command(BaseCommand):
    help = "Print the sign-ins of the demonstration, one for each role and shop."

    def handle(self, *args: Any, **options: Any) -> None:
        """Say who signs in how."""
        if settings.IN_PRODUCTION:
            raise CommandError("There are sign-ins to print only where SHOPSERV_ENV=demo.")
        self.stdout.write(f"The pass phrase of all of them: {settings.DEMO_PHRASE}")
        grants = RoleGrant.objects.filter(grant__in=ROLES, given=True, staff__state="active")
        rows = grants.select_related("staff", "shop").order_by("grant", "shop__code", "staff__name")
        for grant in sorted(rows, key=lambda row: ROLES.index(row.grant)):
            person = grant.staff
            self.stdout.write(
                f"  {grant.grant:<11} {grant.shop.code}  {person.sign_in:<22} "
                f"PIN {demo_pin(person.initials)}  {person.name}"
            )
