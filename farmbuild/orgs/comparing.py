"""What the commands have in common that compare the books of every organisation with what they follow from."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation


class ComparesBooks(BaseCommand):
    """Says each fault on a line, and ends with CommandError where there are any. ``what`` adds up."""

    what = ""

    def faults_of(self, organisation: Organisation) -> list[str]:
        raise NotImplementedError

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = 0
        with transaction.atomic():
            organisations = [*Organisation.objects.order_by("pk")]
            for organisation in organisations:
                for words in self.faults_of(organisation):
                    wrong += 1
                    self.stdout.write(f"{organisation}: {words}")
        if wrong:
            raise CommandError(f"{count_noun(wrong, 'fault')} in {self.what} of {len(organisations)} organisations.")
        self.stdout.write(
            f"{self.what[:1].upper()}{self.what[1:]} of {count_noun(len(organisations), 'organisation')} add up."
        )
