"""Benders, who has them when, and who asks for them."""

from datetime import date, datetime
from typing import Annotated

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from ninja import Field, Router, Schema, Status
from pydantic import StringConstraints

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads, writes
from farmbuild.api.specs import Closed
from farmbuild.api.values import Day, Line, Mm, field, mm
from farmbuild.catalogue.selectors import materials_of
from farmbuild.crew.bookings.member_requests import create_request
from farmbuild.crew.bookings.selectors import bookings_of, members_of, requests_of
from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.acts import Act

router = Router(tags=["benders"])
SEE = Bearer(Act.SEE)


class BenderOut(Schema):
    slug: str
    name: str
    rated_radius_mm: Mm
    rated_span_mm: Mm
    owner: str
    kept_at: str


class MemberOut(Schema):
    slug: str
    name: str
    shares: int


class BookingOut(Schema):
    id: int
    bender: str
    member: str | None = field("None: for the organisation itself.")
    first: date
    last: date
    state: str = field("booked, out, back or cancelled.")
    out_at: datetime | None
    back_at: datetime | None


class RequestOut(Schema):
    id: int
    member: str
    bender: str | None = field("None: any that bends the tube.")
    tube: str | None
    days: int
    earliest: date
    need_by: date
    note: str
    state: str = field("asked, given, withdrawn or declined.")
    declined_because: str


def bender_out(row: Bender):
    return {
        "slug": row.slug,
        "name": row.name,
        "rated_radius_mm": mm(row.rated_radius),
        "rated_span_mm": mm(row.rated_span),
        "owner": row.owner,
        "kept_at": row.kept_at,
    }


def member_out(row: Member):
    return {"slug": row.slug, "name": row.name, "shares": row.share}


def booking_out(row: BenderBooking):
    return {
        "id": row.pk,
        "bender": row.bender.slug,
        "member": row.member.slug if row.member else None,
        "first": row.first,
        "last": row.last,
        "state": row.state,
        "out_at": row.out_at,
        "back_at": row.back_at,
    }


def request_out(row: BenderRequest):
    return {
        "id": row.pk,
        "member": row.member.slug,
        "bender": row.bender.slug if row.bender else None,
        "tube": row.tube.code if row.tube else None,
        "days": row.days,
        "earliest": row.earliest,
        "need_by": row.need_by,
        "note": row.note,
        "state": row.state,
        "declined_because": row.declined_because,
    }


@reads(router, "/benders", "benders", listed(BenderOut), SEE, "Benders in use")
def benders(request: HttpRequest, asked: Part):
    return part(benders_of(organisation=request.organisation), asked, bender_out)


@reads(router, "/members", "members", listed(MemberOut), SEE, "Members that borrow")
def members(request: HttpRequest, asked: Part):
    return part(members_of(organisation=request.organisation), asked, member_out)


@reads(router, "/bookings", "bookings", listed(BookingOut), SEE, "Who has which when")
def bookings(request: HttpRequest, asked: Part, state: BenderBooking.State | None = None):
    rows = bookings_of(organisation=request.organisation).select_related("bender", "member")
    return part(rows.filter(state=state) if state else rows, asked, booking_out)


@reads(router, "/bender-requests", "bender-requests", listed(RequestOut), SEE, "Days that members ask for")
def requests(request: HttpRequest, asked: Part, state: BenderRequest.State | None = None):
    rows = requests_of(organisation=request.organisation).select_related("member", "bender", "tube")
    return part(rows.filter(state=state) if state else rows, asked, request_out)


class RequestIn(Closed):
    member: Line = field("The slug of the member who asks.")
    bender: Line | None = field("The slug of one; none: any that bends the tube.", None)
    tube: Line | None = field("The code of the tube, where no bender is named.", None)
    days: Annotated[int, Field(ge=1, le=366)]
    earliest: Day
    need_by: Day = field("Needed back by, at the latest.")
    note: Annotated[Line, StringConstraints(max_length=200)] = ""


@writes(router, "/bender-requests", "bender-ask", RequestOut, Bearer(Act.BENDERS), "Ask for a bender for a member")
def ask(request: HttpRequest, sent: RequestIn):
    organisation = request.organisation
    there = {
        "member": members_of(organisation=organisation).filter(slug=sent.member),
        "bender": benders_of(organisation=organisation).filter(slug=sent.bender),
        "tube": materials_of(organisation=organisation).filter(code=sent.tube),
    }
    named = {name: value for name in there if (value := getattr(sent, name)) is not None}
    data = {name: rows.first() if name in named else None for name, rows in there.items()}
    if wrong := {name: f"There is no {name} {value}." for name, value in named.items() if data[name] is None}:
        raise ValidationError(wrong)
    said = {name: getattr(sent, name) for name in ("days", "earliest", "need_by", "note")}
    made = create_request(organisation=organisation, user=request.user, data=data | said)
    return Status(201, request_out(made))
