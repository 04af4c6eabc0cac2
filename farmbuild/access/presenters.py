"""What pages of sign-ins show, gathered once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from farmbuild.access import second_step, signins
from farmbuild.access.limits import lasting_of
from farmbuild.access.models import Entry, Session
from farmbuild.orgs.models import User


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
    }


def sign_in_lines(rows: Iterable[Session], *, own: str | None = None) -> list[SignInLine]:
    return [
        SignInLine(
            handle=signins.handle_of(row.session_key),
            browser=row.browser or "A browser",
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
            what=row.get_what_display(),
            who=row.user.display_name if row.user else "",
            by=row.by.display_name if row.by else "",
            where=", ".join(filter(None, (row.browser, row.address))),
            wrong=row.what in _WRONG,
        )
        for row in rows
    ]
