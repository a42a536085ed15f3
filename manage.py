#!/usr/bin/env python3
"""The commands of shopserv."""

import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopserv.settings")
    if sys.argv[1:2] == ["checkfigures"]:  # it reads a file and calculates: that needs no key and no host name
        os.environ.setdefault("SHOPSERV_ENV", "test")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as cause:  # said without a trace: it is the settings, not the program
        sys.exit(f"{cause} For the demonstration: SHOPSERV_ENV=demo {' '.join(['manage.py', *sys.argv[1:]])}")
