"""What hours of a week must keep to, said in words at the value that breaks it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext, gettext_lazy

from farmbuild.crew.bridge import SLOT_MINUTES, Hours
from farmbuild.crew.people.words import DAYS, clock

NO_HOURS = gettext_lazy(
    "Nobody works in a week without hours. Type the hours of at least one day, for example 07:00 to 12:00."
)


def hour_problems(hours: Sequence[Hours]) -> Iterator[tuple[int, str, str]]:
    """The place in ``hours``, "starts" or "ends", and a sentence. One problem at most for each value."""
    sound: list[int] = []
    for at, row in enumerate(hours):
        whole = True
        for name in ("starts", "ends"):
            moment = getattr(row, name)
            if moment.minute % SLOT_MINUTES or moment.second or moment.microsecond:
                whole = False
                yield (
                    at,
                    name,
                    gettext("%(day)s: work is planned by the quarter of an hour. Type a time such as 07:00 or 07:15.")
                    % {"day": DAYS[row.day]},
                )
        if whole and row.ends <= row.starts:
            whole = False
            yield (
                at,
                "ends",
                gettext("%(day)s starts at %(clock)s. Type a later end, 23:45 at the latest.")
                % {"day": DAYS[row.day], "clock": clock(row.starts)},
            )
        if whole:
            sound.append(at)
    last: dict[int, Hours] = {}
    for at in sorted(sound, key=lambda at: (hours[at].day, hours[at].starts)):
        row = hours[at]
        before = last.get(row.day)
        if before is not None and row.starts < before.ends:
            yield (
                at,
                "starts",
                gettext("%(day)s is worked until %(clock)s already. Type %(clock)s or later.")
                % {"day": DAYS[row.day], "clock": clock(before.ends)},
            )
        if before is None or row.ends > before.ends:
            last[row.day] = row
