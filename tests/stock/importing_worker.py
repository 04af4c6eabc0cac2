"""Puts files of lots into stock, over and over. Run by test_importing_killed.py: organisation, user, rows of a file."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from uuid import uuid4

from farmbuild.orgs.models import Organisation, User
from farmbuild.stock import importing


def work(organisation_pk: int, user_pk: int, rows: int) -> Iterator[object]:
    given = {
        "organisation": Organisation.objects.get(pk=organisation_pk),
        "user": User.objects.get(pk=user_pk),
    }
    yield "ready"
    while True:
        token = str(uuid4())
        lines = [f"rail,10',{at % 7 + 1},Bay {token} {at % 5},{token[:8]}-{at}" for at in range(rows // 2)]
        # The other half has no reference, so numbers are taken for it.
        lines += [f"rail,10',{at % 7 + 1},Bay {token} {at % 5}," for at in range(rows - rows // 2)]
        data = "\n".join(["Material,Length,Quantity,Place,Reference", *lines]).encode()
        draft = importing.make_draft(**given, data=data, filename=f"{token}.csv", today=date(2027, 4, 20))
        importing.store_draft(**given, draft=draft)
        # Said only once it is stored: what was said must be there after the kill.
        yield token
