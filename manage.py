#!/usr/bin/env python3
"""The commands of shopserv."""

import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopserv.settings")
    if sys.argv[1:2] == ["checkfigures"]:  # it reads a file and calculates: that needs no key and no host name
        os.environ.setdefault("SHOPSERV_ENV", "test")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
