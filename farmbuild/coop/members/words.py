"""Sentences about members and their farms."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count, said_list
from farmbuild.coop.members.services import Moved


def signing_words(member: Any) -> str:
    """Of a member of ``members_in``."""
    if member.farm is not None:
        return gettext("the people of its farm")
    names = [row.user.display_name for row in member.signing_in]
    return said_list(names) if names else gettext("nobody")


def moved_words(moved: Moved) -> str:
    """The report of many that were moved at once, in one sentence for those that were."""
    if not moved.farms:
        return gettext("No member was moved.")
    names = said_list(str(row.member) for row in moved.farms)
    return gettext("%(members)s moved over: %(names)s.") % {
        "members": said_count(len(moved.farms), "member"),
        "names": names,
    }
