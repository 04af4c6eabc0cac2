"""What pages of sign-ins show, gathered once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.access import log, second_step, signins
from farmbuild.access.cards import Handed, why_not
from farmbuild.access.limits import lasting_of
from farmbuild.access.models import Entry, Invitation, Session
from farmbuild.access.people import ROLE_WORDS, differences, why_no_link
from farmbuild.common.qr import code_svg
from farmbuild.common.speaking import said_list
from farmbuild.orgs.acts import Role
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.models import Membership, User

#: Lines of the log on the page of a person.
LINES = 10


@dataclass(frozen=True)
class SignInLine:
    """``own``: the sign-in by which the page is read."""

    handle: str
    browser: str
    address: str
    begun_at: datetime
    seen_at: datetime
    own: bool


@dataclass(frozen=True)
class EntryLine:
    at: datetime
    what: str
    who: str
    by: str
    where: str
    wrong: bool


_WRONG = {Entry.What.WRONG_PASSWORD, Entry.What.WRONG_CODE, Entry.What.WRONG_INVITATION}


def account_facts(user: User) -> dict[str, Any]:
    step = second_step.step_of(user=user)
    return {
        "step_on": bool(step and step.on_since),
        "papers": second_step.papers_left(user=user),
        "sign_ins": signins.in_use(user=user).count(),
        "lasting": lasting_of(user),
        "reads": _reads(user),
        "weekly": said_list(row.organisation.name for row in user.weekly_sheets.select_related("organisation")),
    }


def _reads(user: User) -> str:
    """How somebody reads pages, in words."""
    language = user.get_language_display() or gettext("language as the organisation")
    units = user.get_units_display() or gettext("units as the organisation")
    letters = gettext("large letters") if user.large_letters else gettext("usual letters")
    return ", ".join((language, units, letters))


def person_facts(person: Membership) -> dict[str, Any]:
    role = Role(person.role)
    return {
        "person": person,
        "role": f"{role.label}: {gettext(ROLE_WORDS[role])}",
        "differs": differences(person),
        "sign_ins": sign_in_lines(signins.in_use(user=person.user)),
        "lasting": lasting_of(person.user),
        "step_on": second_step.is_on(user=person.user),
        "why_no_link": why_no_link(person),
        "lines": entry_lines(log.entries_of(user=person.user)[:LINES]),
    }


@dataclass(frozen=True)
class Card:
    """What is handed over, as link and on paper. ``page``: where the code is typed; ``drawing``: of ``address``."""

    invitation: Any
    address: str
    code: str
    page: str
    drawing: SafeString


def card_of(
    handed: Handed, absolute: Callable[[str], str], *, link: str = "access:join-link", page: str = "access:join-code"
) -> Card:
    """``absolute`` puts the host before a path; ``link`` and ``page`` name the addresses at which it is taken."""
    address = absolute(reverse_outside(link, handed.token))
    return Card(
        invitation=handed.invitation,
        address=address,
        code=handed.code,
        page=absolute(reverse_outside(page)),
        drawing=code_svg(
            address,
            about=gettext("Square code of the %(called)s of %(invitation)s")
            % {"called": gettext(handed.invitation.CALLED), "invitation": handed.invitation},
        ),
    )


def invitation_words(invitation: Invitation) -> dict[str, str]:
    """Its role in plain words, and why it lets nobody in, empty while it does."""
    role = Role(invitation.role)
    return {"role": role.label, "does": gettext(ROLE_WORDS[role]), "why_not": why_not(invitation)}


def sign_in_lines(rows: Iterable[Session], *, own: str | None = None) -> list[SignInLine]:
    return [
        SignInLine(
            handle=signins.handle_of(row.session_key),
            browser=gettext(row.browser or "A browser"),
            address=row.address,
            begun_at=row.begun_at,
            seen_at=row.seen_at,
            own=row.session_key == own,
        )
        for row in rows
    ]


def entry_lines(rows: Iterable[Entry]) -> list[EntryLine]:
    return [
        EntryLine(
            at=row.at,
            what=f"{row.get_what_display()}: {row.page}" if row.page else row.get_what_display(),
            who=row.user.display_name if row.user else "",
            by=row.by.display_name if row.by else "",
            where=", ".join(filter(None, (row.browser and gettext(row.browser), row.address))),
            wrong=row.what in _WRONG,
        )
        for row in rows
    ]
