"""Who does not belong to an organisation any more leaves no program behind."""

from __future__ import annotations

from typing import Any

from django.dispatch import receiver

from farmbuild.access.signals import taken_out
from farmbuild.api.tokens import end_tokens_of
from farmbuild.orgs.models import Organisation, User


@receiver(taken_out)
def end_their_tokens(organisation: Organisation, user: User, **_: Any) -> None:
    end_tokens_of(organisation=organisation, user=user)
