"""The rules of sharing: stored, and said in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.having import season_of, sharing_rules_of
from farmbuild.crew.models import SharingRules
from farmbuild.crew.people.services import lock_organisation
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

FIELDS = (
    "season_month", "season_day", "last_season_percent", "together", "most_days_open", "days_a_week_sooner"
)  # fmt: skip


@needs(Act.BENDERS)
@transaction.atomic
def save_sharing_rules(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> SharingRules:
    """``data``: any of ``FIELDS``; they hold for the next proposal. Raises ValidationError by field."""
    lock_organisation(organisation)
    current = sharing_rules_of(organisation=organisation)
    for name in FIELDS:
        if name in data:
            setattr(current, name, data[name])
    current.full_clean()
    current.save()
    return current


def effects_of(rules: SharingRules, today: date) -> list[str]:
    """What each rule does, a sentence each."""
    season = season_of(rules, today)
    percent, weight, most = rules.last_season_percent, rules.days_a_week_sooner, rules.most_days_open
    return [
        gettext("This season began on %(start)s. Days since then count whole, and days booked to come.")
        % {"start": day(season.start)},
        gettext("Of days between %(before)s and then, %(percent)s in a hundred count.")
        % {"before": day(season.before), "percent": percent}
        if percent
        else gettext("Days before it do not count."),
        gettext("All wishes of a member count as one: asking twice gains nothing.")
        if rules.together
        else gettext("Each wish counts by itself: whoever asks twice may be served twice."),
        gettext("Nobody is given more than %(most)s at a time, with what they have booked or out.")
        % {"most": said_count(most, "day")}
        if most
        else gettext("A member may have any number of days booked at a time."),
        gettext("Whoever needs it back a week sooner counts as having had %(weight)s a share fewer.")
        % {"weight": said_count(weight, "day")}
        if weight
        else gettext("The day it is needed back decides only between equals."),
    ]
