"""Compare members' accounts with what they were posted for."""

from __future__ import annotations

from farmbuild.coop.law import faults_of
from farmbuild.orgs.comparing import ComparesBooks
from farmbuild.orgs.models import Organisation


class Command(ComparesBooks):
    help = "Compare what members owe with what it was posted for, to the coin. Changes nothing."
    what = "the accounts of members"

    def faults_of(self, organisation: Organisation) -> list[str]:
        return faults_of(organisation=organisation)
