"""What the pages of members show, gathered once."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.members import selectors as farms
from farmbuild.coop.members.panels import panels_of
from farmbuild.crew.bookings.bender_warnings import own_findings
from farmbuild.crew.bookings.own import selectors
from farmbuild.crew.bookings.own.drawings import day_sheets, told_of
from farmbuild.crew.bookings.own.tables import OwnBookingTable, OwnRequestTable
from farmbuild.crew.bookings.signins import sign_ins_for
from farmbuild.crew.bookings.weeks import coming_weeks_from
from farmbuild.crew.models import Member
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

#: As many benders, bookings and requests stand on the first page; their own pages have all.
FEW = 5


def seen_facts(member: Member, *, sees_costs: bool) -> dict[str, Any]:
    """Of the first page of a member."""
    lender = member.organisation
    today = today_of(organisation=lender)
    weeks = coming_weeks_from(None, today=today)
    benders = list(benders_of(organisation=lender)[: FEW + 1])
    shown = benders[:FEW]
    stretches = selectors.stretches_of(member=member, benders=shown, start=weeks.start, end=weeks.end, today=today)
    bookings = list(selectors.own_open_bookings_of(member=member, today=today)[: FEW + 1])
    requests = list(selectors.own_open_requests_of(member=member)[: FEW + 1])
    return {
        "member": member,
        "lender": lender,
        "today": today,
        "weeks": weeks,
        "findings": own_findings(member=member),
        "late": selectors.own_late_of(member=member, today=today),
        "out": selectors.own_benders_out(member=member).count(),
        "next": selectors.own_next_booking(member=member, today=today),
        "free": selectors.free_on(today, stretches),
        "benders": len(shown),
        "drawings": day_sheets(shown, stretches, weeks.start, today, lender.slug),
        "told": [told_of(bender, stretches) for bender in shown],
        "more": max(len(rows) for rows in (benders, bookings, requests)) > FEW,
        "bookings": OwnBookingTable(bookings[:FEW], organisation=lender, prefix="b-", orderable=False),
        "requests": OwnRequestTable(requests[:FEW], organisation=lender, prefix="r-", orderable=False),
        "panels": panels_of(member=member, today=today, sees_costs=sees_costs),
    }


def members_facts(organisation: Organisation) -> dict[str, Any]:
    """Of the page of all members: who has a farm here, who signs in, who neither."""
    members = farms.members_in(organisation=organisation)
    without = [member for member in members if member.farm is None]
    ready = [member for member in without if any(row.user.has_usable_password() for row in member.signing_in)]
    return {
        "members": members,
        "with_farm": len(members) - len(without),
        "signing_in": sum(bool(member.signing_in) for member in without),
        "neither": sum(not member.signing_in for member in without),
        "ready": ready,
        "left": [member for member in without if member not in ready],
    }


def member_facts(member: Member) -> dict[str, Any]:
    """Of the page of one member, for whoever runs the cooperative."""
    links = list(farms.links_of(member=member))
    standing = next((row for row in links if row.ended_at is None), None)
    used = [row for row in sign_ins_for(member=member).filter(shut_at=None) if row.user.has_usable_password()]
    return {
        "member": member,
        "link": standing,
        "links": links,
        "ends": farms.what_ends(member=member, farm=standing.farm) if standing else [],
        "people": [row.user.display_name for row in used],
        "open_card": farms.open_card_of(member=member),
    }
