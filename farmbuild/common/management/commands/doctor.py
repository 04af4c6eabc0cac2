"""Look at the whole server: settings, files, versions, database, guards, sums, work."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from farmbuild.common.doctor.examining import examine
from farmbuild.measure import count_noun


class Command(BaseCommand):
    help = "Look at settings, files, versions, database, guards and sums, and say what is wrong. Changes nothing."
    # It says itself what is wrong with them.
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        faults = 0
        for found in examine():
            self.stdout.write(f"{found.what}: {'; '.join(found.faults) or found.words or 'well'}")
            faults += len(found.faults)
        if faults:
            raise CommandError(f"{count_noun(faults, 'fault')} found.")
        self.stdout.write("All is well.")
