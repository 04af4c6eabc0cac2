"""Compare all that was charged, and what lies in the yard, with all that came in."""

from __future__ import annotations

from farmbuild.costs.law import faults_of
from farmbuild.orgs.comparing import ComparesBooks
from farmbuild.orgs.models import Organisation


class Command(ComparesBooks):
    help = "Compare what houses cost, and the stock, with what came in, to the coin. Changes nothing."
    what = "the costs"

    def faults_of(self, organisation: Organisation) -> list[str]:
        return faults_of(organisation=organisation)
