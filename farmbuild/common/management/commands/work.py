"""Work out plans, schedules and long files, for as long as it is let."""

from __future__ import annotations

import logging
import time
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import InterfaceError, OperationalError, connections

from farmbuild.common.background import watch
from farmbuild.common.schema_version import refuse_another_version

logger = logging.getLogger("farmbuild.work")
#: Seconds between two tries while the database does not answer; each waits twice as long, up to the last.
FIRST_PAUSE, LONGEST_PAUSE = 1, 30


class Command(BaseCommand):
    help = "Do the work that the database keeps in its queue. Any number of them may run, on several machines."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DATABASE_WORKERS:
            raise CommandError("Set FARMBUILD_TASKS=database first; else the process that serves does the work itself.")
        refuse_another_version()
        watch()
        pause = FIRST_PAUSE
        while True:
            began = time.monotonic()
            try:
                # Ends by SystemExit once it is told to stop and what it is at is done.
                call_command("db_worker", queue_name="*", verbosity=0)
            except (OperationalError, InterfaceError) as error:
                # The database was started anew, or is gone for a while: what was being done is taken up again.
                logger.warning("The database does not answer, tried again in %s s: %s", pause, error)
            connections.close_all()
            if time.monotonic() - began > LONGEST_PAUSE:
                pause = FIRST_PAUSE
            time.sleep(pause)
            pause = min(2 * pause, LONGEST_PAUSE)
