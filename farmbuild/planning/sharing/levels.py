"""Days per share: what members are compared by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from farmbuild.planning.sharing.inputs import Request, Rules, Standing


@dataclass(frozen=True)
class Claim:
    """Requests that count as one: all of a member, or a single one. ``rows``: their places in turn; ``before``: days
    per share without any of them."""

    member: str
    rows: tuple[int, ...]
    before: Fraction
    share: int

    def level(self, days: int) -> Fraction:
        """Days per share once ``days`` of it are given."""
        return self.before + Fraction(days, self.share)


def days_counted(standing: Standing, rules: Rules) -> Fraction:
    """Of this season, and of the last one at its weight."""
    return standing.days + Fraction(standing.last_season * rules.last_season_percent, 100)


def claims_of(
    order: Sequence[Request], members: Mapping[str, Standing], rules: Rules, today: date
) -> tuple[Claim, ...]:
    """By the first of each in turn. Where need dates count, the last of a claim is its date, so that a wish that is
    split is not more urgent than it was."""
    groups: dict[str, list[int]] = {}
    for row, request in enumerate(order):
        groups.setdefault(request.member if rules.together else request.ref, []).append(row)
    found = []
    for rows in groups.values():
        member = order[rows[0]].member
        standing = members[member]
        back = max(order[row].need_by for row in rows)
        later = Fraction((back - today).days * rules.days_a_week_sooner, 7)
        before = days_counted(standing, rules) / standing.share + later
        found.append(Claim(member, tuple(rows), before, standing.share))
    return tuple(found)


def sums_of(days: Iterable[int], most: int | None) -> list[int]:
    """What any number of these come to, 0 included, up to ``most``."""
    found = {0}
    for more in days:
        found |= {total + more for total in found if most is None or total + more <= most}
    return sorted(found)
