"""Compare members' accounts with what they were posted for."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from farmbuild.coop.law import faults_of
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation


class Command(BaseCommand):
    help = "Compare what members owe with what it was posted for, to the coin. Changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = 0
        with transaction.atomic():
            organisations = [*Organisation.objects.order_by("pk")]
            for organisation in organisations:
                for words in faults_of(organisation=organisation):
                    wrong += 1
                    self.stdout.write(f"{organisation}: {words}")
        if wrong:
            raise CommandError(
                f"{count_noun(wrong, 'fault')} in the accounts of members of {len(organisations)} organisations."
            )
        self.stdout.write(f"The accounts of members of {count_noun(len(organisations), 'organisation')} add up.")
