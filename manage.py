#!/usr/bin/env python
"""Django's command line for farmbuild."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "farmbuild.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except KeyboardInterrupt:
        sys.exit("\nStopped. The same command goes on from here.")


if __name__ == "__main__":
    main()
