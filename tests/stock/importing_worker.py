"""Reads files of lots and puts them into stock until it is killed. Run by test_importing_killed.py.

Arguments: organisation, user, rows in a file.
"""

from __future__ import annotations

import sys
from datetime import date
from uuid import uuid4

import django

django.setup()

from farmbuild.orgs.models import Organisation, User  # noqa: E402
from farmbuild.stock import importing  # noqa: E402


def main(organisation_pk: int, user_pk: int, rows: int) -> None:
    given = {
        "organisation": Organisation.objects.get(pk=organisation_pk),
        "user": User.objects.get(pk=user_pk),
    }
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    while True:
        token = str(uuid4())
        lines = [f"rail,10',{at % 7 + 1},Bay {token} {at % 5},{token[:8]}-{at}" for at in range(rows // 2)]
        # The other half has no reference, so numbers are taken for it.
        lines += [f"rail,10',{at % 7 + 1},Bay {token} {at % 5}," for at in range(rows - rows // 2)]
        data = "\n".join(["Material,Length,Quantity,Place,Reference", *lines]).encode()
        draft = importing.make_draft(**given, data=data, filename=f"{token}.csv", today=date(2027, 4, 20))
        importing.store_draft(**given, draft=draft)
        # Said only once it is stored: what was said must be there after the kill.
        sys.stdout.write(f"{token}\n")
        sys.stdout.flush()


main(*(int(argument) for argument in sys.argv[1:]))
