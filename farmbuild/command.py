"""The command farmbuild, as pip installs it: what manage.py does in a clone."""

import os
import sys

#: Shorter words for what Django finds by the name of a file.
NAMES = {"template": "project_template"}


def main(arguments: list[str] | None = None) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "farmbuild.settings")
    from django.core.management import execute_from_command_line

    name, *rest = list(sys.argv if arguments is None else arguments)
    rest[:1] = [NAMES.get(word, word) for word in rest[:1]]
    try:
        execute_from_command_line([name, *rest])
    except KeyboardInterrupt:
        sys.exit("\nStopped. The same command goes on from here.")
