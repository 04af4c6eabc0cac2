"""What the cooperative's rooms answer when organisations ask."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.models import MemberEntry
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """All of it is stored under the lock of the organisation, which whoever changes the currency has."""
    entries = MemberEntry.objects.of(organisation).count()
    return [count_noun(entries, "entry of a member's account", "entries of members' accounts")] if entries else []
