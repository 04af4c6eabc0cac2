"""Sentences about members and their farms."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.members.services import Moved
from farmbuild.measure import count_noun, join_words


def signing_words(member: Any) -> str:
    """Of a member of ``members_in``."""
    if member.farm is not None:
        return "the people of its farm"
    names = [row.user.display_name for row in member.signing_in]
    return join_words(names) if names else "nobody"


def moved_words(moved: Moved) -> str:
    """The report of many that were moved at once, in one sentence for those that were."""
    if not moved.farms:
        return "No member was moved."
    names = join_words(str(row.member) for row in moved.farms)
    return f"{count_noun(len(moved.farms), 'member')} moved over: {names}."
