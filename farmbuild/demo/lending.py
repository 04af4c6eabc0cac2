"""Invented members who borrow benders. Days count from the day that the demo is loaded, so that there is one out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from farmbuild.catalogue.selectors import materials_of
from farmbuild.crew.bookings.member_requests import create_request, save_member
from farmbuild.crew.bookings.services import book, check_out
from farmbuild.crew.bookings.signins import invite_member
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User


def enter_lending(organisation: Organisation, user: User, rows: Mapping[str, Any], password: str) -> None:
    enter_members(organisation, user, rows, password)
    for row in rows["bookings"]:
        booking = enter_booking(organisation, user, row)
        if row["left"]:
            check_out(organisation=organisation, user=user, booking=booking, condition=row["left"])
    enter_requests(organisation, user, rows)


def enter_members(organisation: Organisation, user: User, rows: Mapping[str, Any], password: str) -> None:
    """``password``: of those who sign in for a member."""
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    members = {row["name"]: save_member(**given, data=row) for row in rows["members"]}
    for row in rows["sign_ins"]:
        who = {"name": row["name"], "username": row["username"]}
        visitor = invite_member(**given, member=members[row["member"]], data=who).user
        visitor.set_password(password)
        visitor.save()


def enter_booking(organisation: Organisation, user: User, row: Mapping[str, Any], *, ago: int = 0) -> BenderBooking:
    """Made so many days before the day from which those of ``row`` count."""
    loaded = today_of(organisation=organisation) + timedelta(days=ago)
    return book(
        organisation=organisation,
        user=user,
        bender=benders_of(organisation=organisation).get(slug=row["bender"]),
        member=Member.objects.of(organisation).get(name=row["member"]),
        first=loaded + timedelta(days=row["first"]),
        last=loaded + timedelta(days=row["last"]),
    )


def enter_requests(organisation: Organisation, user: User, rows: Mapping[str, Any]) -> None:
    today = today_of(organisation=organisation)
    members = {member.name: member for member in Member.objects.of(organisation)}
    benders = {bender.slug: bender for bender in benders_of(organisation=organisation)}
    tubes = {material.code: material for material in materials_of(organisation=organisation)}
    for row in rows["requests"]:
        create_request(
            organisation=organisation,
            user=user,
            data={
                "bender": benders[row["bender"]] if "bender" in row else None,
                "tube": tubes[row["tube"]] if "tube" in row else None,
                "member": members[row["member"]],
                "days": row["days"],
                "earliest": today + timedelta(days=row["earliest"]),
                "need_by": today + timedelta(days=row["need_by"]),
                "note": row["note"],
            },
        )
