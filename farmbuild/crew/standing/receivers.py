"""What is answered when the yard asks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from farmbuild.crew.standing import next_steps, records
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.yard.standing import NextStep, Standing


def tell_standings(
    sender: Any, *, organisation: Organisation, houses: Sequence[House], **more: Any
) -> dict[int, Standing]:
    return records.standings(organisation=organisation, houses=houses)


def tell_next_steps(sender: Any, *, organisation: Organisation, **more: Any) -> list[NextStep]:
    return next_steps.next_steps(organisation=organisation)
