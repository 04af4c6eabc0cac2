"""How long a sign-in lasts: while nothing is done with it, and at all. The strictest role of a person counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.orgs.models import Membership, User


@dataclass(frozen=True)
class Lasting:
    """``idle``: since the last page. ``longest``: since signing in, whatever is done."""

    idle: timedelta
    longest: timedelta

    @property
    def words(self) -> str:
        return gettext("%(idle)s without use, %(longest)s at most") % {
            "idle": _words(self.idle),
            "longest": _words(self.longest),
        }


_OFFICE = Lasting(idle=timedelta(hours=4), longest=timedelta(hours=12))
_YARD = Lasting(idle=timedelta(days=7), longest=timedelta(days=30))
_PHONE = Lasting(idle=timedelta(days=21), longest=timedelta(days=60))

#: By role. Whoever may change or order most signs in every day; a phone in the field stays signed in for weeks, since
#: it shows a day's work and no prices.
BY_ROLE = {"owner": _OFFICE, "planner": _OFFICE, "yard": _YARD, "crew": _PHONE, "looks": _OFFICE}
#: A member of a cooperative, who sees days of benders alone.
VISITOR = _PHONE
LONGEST = max(lasting.longest for lasting in (*BY_ROLE.values(), VISITOR))


def _words(time: timedelta) -> str:
    hours = int(time.total_seconds()) // 3600
    return said_count(hours // 24, "day") if hours >= 48 else said_count(hours, "hour")


def lasting_of(user: User) -> Lasting:
    """That of the strictest role; without any, as in an office."""
    if user.visitor:
        return VISITOR
    roles = Membership.objects.filter(user=user).values_list("role", flat=True)
    rules = [BY_ROLE.get(role, _OFFICE) for role in roles] or [_OFFICE]
    if user.is_staff:
        rules.append(_OFFICE)
    return Lasting(idle=min(rule.idle for rule in rules), longest=min(rule.longest for rule in rules))
