"""The week by e-mail: each sheet that is due is claimed, written and sent, and tried again later where that failed."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext

from farmbuild.access import mail, weekly
from farmbuild.access.models import WeeklySheet
from farmbuild.common.speaking import said_day
from farmbuild.crew.weekly.sheet import sheet_of
from farmbuild.measure import use_amounts
from farmbuild.orgs.acts import Act, acts_of
from farmbuild.orgs.addresses import prefix_of
from farmbuild.orgs.clock import today_of, zone_in_force
from farmbuild.orgs.languages import in_language_of

_log = logging.getLogger(__name__)


def send_due(*, site: str) -> Iterator[bool]:
    """For each that was tried whether it went out. ``site``: what addresses begin with, without a slash at the end."""
    for wanted in weekly.to_send():
        monday = weekly.week_of(today_of(organisation=wanted.organisation))
        row = weekly.claim(sheet=wanted, monday=monday)
        if row is None:
            continue
        sent = False
        try:
            sent = _send(wanted, row.monday, site)
        except Exception:
            # One that cannot be written keeps nobody else from theirs.
            _log.exception("The week of %s could not be written for %s.", wanted.organisation, wanted.user)
        if sent:
            weekly.note_sent(row)
        else:
            weekly.let_go(row)
        yield sent


def _send(wanted: WeeklySheet, monday: date, site: str) -> bool:
    organisation, user = wanted.organisation, wanted.user
    acts = acts_of(organisation=organisation, user=user)
    end = f"{site}{weekly.end_path(wanted)}"
    with zone_in_force(organisation), in_language_of(user, organisation), use_amounts(Act.COSTS in acts):
        sheet = sheet_of(organisation=organisation, user=user, acts=acts, monday=monday)
        return mail.send(
            to=user.email,
            subject=gettext("Week from %(day)s, %(organisation)s")
            % {"day": said_day(monday), "organisation": organisation},
            template="crew/weekly/sheet.txt",
            # RFC 2369, 3.2: programs for e-mail show it as a way out.
            headers={"List-Unsubscribe": f"<{end}>"},
            user=user,
            organisation=organisation,
            sheet=sheet,
            page=f"{site}{prefix_of(organisation.slug)}" + ("" if sheet.own else f"crew/week/{monday:%Y-%m-%d}/"),
            end=end,
        )
