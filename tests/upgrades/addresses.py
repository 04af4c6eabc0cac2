"""Every address of the site that its resolver knows, with arguments taken from rows that are there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from django.apps import apps
from django.contrib.auth.tokens import default_token_generator
from django.db.models import F, Manager
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from farmbuild.coop.models import CommonOffer, CommonWish, Damage, JointNeed, PipeLoan, PipeReturn, SentStatement
from farmbuild.crew.models import BenderBooking, BenderRequest, BookingPhoto, MemberSignIn
from farmbuild.guide.jobs import JOBS
from farmbuild.orgs.models import User
from farmbuild.quotes.models import ChangeOrder, Option
from farmbuild.sites.starters import starters
from farmbuild.stock.models import Leave, Lot, Movement, Reservation

#: Beginning of an address: the model whose rows give its arguments, and from which of their fields. The longest that
#: fits is used. An address that none of these fits is told of by the test.
ROWS: dict[str, tuple[str, dict[str, str]]] = {
    "cooperative/accounts/<slug:slug>/": ("crew.Member", {"slug": "slug"}),
    "cooperative/damage/<int:pk>/": ("coop.Damage", {"pk": "pk"}),
    "cooperative/entries/<int:pk>/": ("coop.MemberEntry", {"pk": "pk"}),
    "cooperative/pipe/<int:pk>/": ("coop.PipeLoan", {"pk": "pk"}),
    "cooperative/pipe/returns/<int:pk>/": ("coop.PipeReturn", {"pk": "pk"}),
    "cooperative/statements/<int:number>/": ("coop.SentStatement", {"number": "number"}),
    "changes/<uuid:act>/": ("history.Entry", {"act": "act"}),
    "costs/equipment/<int:pk>/": ("costs.EquipmentDay", {"pk": "pk"}),
    "costs/time/<int:pk>/": ("costs.PaidTime", {"pk": "pk"}),
    "costs/time/approved/<int:pk>/": ("crew.HourApproval", {"pk": "pk"}),
    "costs/trips/<int:pk>/": ("costs.Trip", {"pk": "pk"}),
    "crew/benders/bookings/<int:pk>/": ("crew.BenderBooking", {"pk": "pk"}),
    "crew/benders/photos/<int:pk>/": ("crew.BookingPhoto", {"pk": "pk"}),
    "crew/benders/calendars/<slug:slug>/": ("hoops.Bender", {"slug": "slug"}),
    "crew/benders/members/<slug:slug>/": ("crew.Member", {"slug": "slug"}),
    "crew/benders/members/<slug:slug>/sign-ins/<int:pk>/": (
        "crew.MemberSignIn",
        {"slug": "member__slug", "pk": "pk"},
    ),
    "crew/benders/requests/<int:pk>/": ("crew.BenderRequest", {"pk": "pk"}),
    "crew/crews/<slug:slug>/": ("crew.Crew", {"slug": "slug"}),
    "crew/day/<int:pk>/": ("crew.Task", {"pk": "pk"}),
    "crew/day/calendars/<slug:slug>/": ("crew.Person", {"slug": "slug"}),
    "crew/days-off/<int:pk>/": ("crew.DayOff", {"pk": "pk"}),
    "crew/hours/<int:pk>/": ("crew.WorkWeek", {"pk": "pk"}),
    "crew/people/<slug:slug>/": ("crew.Person", {"slug": "slug"}),
    "crew/photos/<int:pk>/": ("crew.ProblemPhoto", {"pk": "pk"}),
    "crew/problems/<int:pk>/": ("crew.ProblemPhoto", {"pk": "actual_id"}),
    "crew/presses/<int:pk>/": ("crew.Actual", {"pk": "pk"}),
    "crew/schedules/<int:number>/": ("crew.Schedule", {"number": "number"}),
    "crew/skills/<int:pk>/": ("crew.Skill", {"pk": "pk"}),
    "crew/tasks/<int:pk>/": ("crew.Task", {"pk": "pk"}),
    "crew/steps/<slug:slug>/": ("crew.WorkTemplate", {"slug": "slug"}),
    "crew/week/<str:day>/": ("crew.WindForecast", {"day": "day"}),
    "crew/worked/<int:pk>/": ("crew.Actual", {"pk": "pk"}),
    "crew/worked/other/<int:pk>/": ("crew.OtherWork", {"pk": "pk"}),
    "hoops/<slug:slug>/": ("hoops.Recipe", {"slug": "slug"}),
    "hoops/batches/<int:number>/": ("hoops.HoopBatch", {"number": "number"}),
    "hoops/batches/<int:number>/trial/<int:attempt>/": (
        "hoops.TrialHoop",
        {"number": "batch__number", "attempt": "attempt"},
    ),
    "hoops/benders/<slug:slug>/": ("hoops.Bender", {"slug": "slug"}),
    "hoops/benders/<slug:slug>/hoops/<int:pk>/": ("hoops.MeasuredHoop", {"slug": "bender__slug", "pk": "pk"}),
    "hoops/benders/<slug:slug>/services/<int:pk>/": ("hoops.ServiceRecord", {"slug": "bender__slug", "pk": "pk"}),
    "houses/<slug:slug>/": ("sites.House", {"slug": "slug"}),
    "houses/new/like/<slug:slug>/": ("sites.House", {"slug": "slug"}),
    "houses/<slug:slug>/fit/<int:pk>/": ("hoops.HouseFit", {"slug": "house__slug", "pk": "pk"}),
    "customers/<slug:slug>/": ("quotes.Customer", {"slug": "slug"}),
    "jobs/<int:number>/": ("quotes.Job", {"number": "number"}),
    "jobs/photos/<int:pk>/": ("quotes.SurveyPhoto", {"pk": "pk"}),
    "quotes/<int:number>/": ("quotes.Quote", {"number": "number"}),
    "quotes/<int:number>/versions/<int:version>/": (
        "quotes.QuoteVersion",
        {"number": "quote__number", "version": "number"},
    ),
    "quotes/links/<int:pk>/": ("quotes.QuoteLink", {"pk": "pk"}),
    "jobs/<int:number>/changes/<int:change>/": ("quotes.ChangeOrder", {"number": "job__number", "change": "number"}),
    "quotes/<int:number>/options/<int:position>/": (
        "quotes.Option",
        {"number": "quote__number", "position": "position"},
    ),
    "quotes/<int:number>/options/<int:position>/houses/<int:pk>/": (
        "quotes.OptionHouse",
        {"number": "option__quote__number", "position": "option__position", "pk": "pk"},
    ),
    "quotes/<int:number>/options/<int:position>/houses/like/<slug:slug>/": (
        "quotes.OptionHouse",
        {"number": "option__quote__number", "position": "option__position", "slug": "source_house__slug"},
    ),
    "quotes/<int:number>/options/<int:position>/lines/<int:pk>/": (
        "quotes.QuoteLine",
        {"number": "option__quote__number", "position": "option__position", "pk": "pk"},
    ),
    "bills/<int:number>/": ("quotes.Bill", {"number": "number"}),
    "joint-orders/<int:number>/": ("coop.JointOrder", {"number": "number"}),
    "joint-orders/<int:number>/needs/<int:pk>/": ("coop.JointNeed", {"number": "joint__number", "pk": "pk"}),
    "joint-orders/<int:number>/handouts/<int:pk>/": ("coop.Handout", {"number": "joint__number", "pk": "pk"}),
    "joint-orders/<int:number>/members/<slug:slug>/": (
        "coop.JointMember",
        {"number": "joint__number", "slug": "member__slug"},
    ),
    "cooperative/members/<slug:slug>/": ("crew.Member", {"slug": "slug"}),
    "cooperative/common-stock/<int:pk>/": ("coop.CommonOffer", {"pk": "pk"}),
    "cooperative/common-stock/wishes/<int:pk>/": ("coop.CommonWish", {"pk": "pk"}),
    "stock/leave/<int:pk>/": ("stock.Leave", {"pk": "pk"}),
    "stock/lots/<int:pk>/leave/": ("stock.Leave", {"pk": "lot_id"}),
    "l/<path:reference>/": ("stock.Lot", {"reference": "reference"}),
    "people/<int:pk>/": ("orgs.Membership", {"pk": "pk"}),
    "people/invitations/<int:pk>/": ("access.Invitation", {"pk": "pk"}),
    "programs/webhooks/<int:pk>/": ("api.Webhook", {"pk": "pk"}),
    "programs/<int:pk>/": ("api.Token", {"pk": "pk"}),
    "materials/<slug:code>/": ("catalogue.Material", {"code": "code"}),
    "orders/<slug:number>/": ("buying.PurchaseOrder", {"number": "number"}),
    "orders/<slug:number>/lines/of/<int:pk>/": ("buying.PurchaseOrderLine", {"number": "order__number", "pk": "pk"}),
    "orders/<slug:number>/lines/<int:position>/": (
        "buying.PurchaseOrderLine",
        {"number": "order__number", "position": "position"},
    ),
    "orders/<slug:number>/receipts/<int:receipt>/": (
        "buying.Receipt",
        {"number": "order__number", "receipt": "number"},
    ),
    "orders/<slug:number>/invoices/<int:invoice>/": (
        "buying.Invoice",
        {"number": "order__number", "invoice": "position"},
    ),
    "orders/<slug:number>/reply/<int:pk>/": ("buying.Reply", {"number": "order__number", "pk": "pk"}),
    "plans/<int:number>/": ("plans.Plan", {"number": "number"}),
    "plans/<int:number>/savings/": ("plans.Plan", {"number": "number"}),
    "plans/<int:number>/savings/progress/": ("plans.PlanSavings", {"number": "plan__number"}),
    "plans/<int:number>/savings/run/": ("plans.PlanSavings", {"number": "plan__number"}),
    "plans/<int:number>/savings/end/": ("plans.PlanSavings", {"number": "plan__number"}),
    "plans/<int:number>/yard/": ("plans.Plan", {"number": "number"}),
    "plans/<int:number>/yard/<slug:by>/progress/": ("plans.PlanFromYard", {"number": "plan__number", "by": "by"}),
    "plans/<int:number>/yard/<slug:by>/run/": ("plans.PlanFromYard", {"number": "plan__number", "by": "by"}),
    "plans/<int:number>/yard/<slug:by>/end/": ("plans.PlanFromYard", {"number": "plan__number", "by": "by"}),
    "plans/<int:number>/yard/<slug:by>/try/": ("plans.PlanFromYard", {"number": "plan__number", "by": "by"}),
    "plans/<int:number>/savings/<int:row>/": ("plans.PlanSavings", {"number": "plan__number", "row": "steps_done"}),
    "plans/<int:number>/needs/<slug:ref>/": ("plans.PlanHouse", {"number": "plan__number", "ref": "house__slug"}),
    "plans/<int:number>/trial/<slug:order>.xlsx": (
        "buying.PurchaseOrder",
        {"number": "plan__number", "order": "number"},
    ),
    "project/read/<int:pk>/": ("projects.ProjectDraft", {"pk": "pk"}),
    "sites/<slug:slug>/": ("sites.Site", {"slug": "slug"}),
    "stock/availability/<slug:code>/": ("catalogue.Material", {"code": "code"}),
    "stock/counts/<int:number>/": ("stock.StockCount", {"number": "number"}),
    "stock/counts/<int:number>/found/<int:pk>/": ("stock.CountFind", {"number": "count__number", "pk": "pk"}),
    "stock/counts/<int:number>/import/<int:pk>/": ("stock.CountDraft", {"number": "count__number", "pk": "pk"}),
    "stock/counts/<int:number>/lines/<int:pk>/": ("stock.CountLine", {"number": "count__number", "pk": "pk"}),
    "stock/counts/<int:number>/places/<int:pk>/": ("stock.CountPlace", {"number": "count__number", "pk": "place_id"}),
    "stock/held/<int:pk>/": ("stock.Reservation", {"pk": "pk"}),
    "stock/import/<int:pk>/": ("stock.ImportDraft", {"pk": "pk"}),
    "stock/lots/<int:pk>/": ("stock.Lot", {"pk": "pk"}),
    "stock/movements/<int:pk>/": ("stock.Movement", {"pk": "pk"}),
    "stock/places/<int:pk>/": ("stock.Place", {"pk": "pk"}),
    "suppliers/<slug:code>/": ("catalogue.Supplier", {"code": "code"}),
    "suppliers/<slug:code>/lists/<int:pk>/": ("catalogue.PriceList", {"code": "supplier__code", "pk": "pk"}),
    "suppliers/<slug:code>/offers/<int:pk>/": ("catalogue.Offer", {"code": "supplier__code", "pk": "pk"}),
}


def patterns(resolver: URLResolver | None = None, spaces: tuple[str, ...] = (), before: str = "") -> Iterator[Any]:
    """(name, route, names of arguments) of every address but those of the admin site, and of programs."""
    for each in (resolver or get_resolver()).url_patterns:
        route = before + str(each.pattern)
        if isinstance(each, URLPattern):
            yield ":".join((*spaces, each.name or "")), route, set(each.pattern.converters)
        elif each.namespace != "admin" and route != "api/":
            yield from patterns(each, (*spaces, each.namespace) if each.namespace else spaces, route)


def swaps() -> list[dict[str, Any]]:
    """The first hold that waits for what is in the yard for another house."""
    for waiting in Reservation.objects.exclude(order_line=None).order_by("pk"):
        same = {"lot__material": waiting.order_line.material_id, "lot__length": waiting.order_line.length}
        for held in Reservation.objects.filter(**same).exclude(house=waiting.house_id)[:1]:
            return [{"pk": waiting.pk, "other": held.pk}]
    return []


def own(rows: Manager) -> list[dict[str, Any]]:
    """Of the members who sign in, who see what is theirs alone."""
    found = rows.filter(member__sign_ins__isnull=False).select_related("organisation").order_by("pk")
    return [{"lender": row.organisation.slug, "pk": row.pk} for row in found]


def lenders() -> list[dict[str, Any]]:
    slugs = MemberSignIn.objects.order_by("pk").values_list("organisation__slug", flat=True)[:1]
    return [{"lender": slug} for slug in slugs]


def returned() -> list[dict[str, Any]]:
    """Of benders that a member brought back."""
    rows = BenderBooking.objects.filter(state="back", member__isnull=False, back_at__isnull=False).order_by("pk")
    return [{"pk": row.pk} for row in rows]


def own_joints() -> list[dict[str, Any]]:
    """Open or not, in which a member who signs in has something."""
    rows = JointNeed.objects.filter(member__sign_ins__isnull=False)
    rows = rows.order_by(F("joint__closed_at").asc(nulls_first=True), "pk")
    found = rows.values_list("joint__organisation__slug", "joint__number").distinct()
    return [{"lender": slug, "number": number} for slug, number in dict.fromkeys(found)]


def own_needs() -> list[dict[str, Any]]:
    rows = JointNeed.objects.filter(member__sign_ins__isnull=False, joint__closed_at=None).order_by("pk")
    found = rows.values_list("joint__organisation__slug", "joint__number", "pk").distinct()
    return [{"lender": slug, "number": number, "pk": pk} for slug, number, pk in found]


def lots_to_open() -> list[dict[str, Any]]:
    """Of the organisation's own with something in them, which members are not offered yet."""
    offered = CommonOffer.objects.filter(ended_at=None).values("lot")
    rows = Lot.objects.filter(owner=None, on_hand__gt=0).exclude(pk__in=offered).order_by("pk")
    return [{"pk": row.pk} for row in rows[:1]]


def own_offers() -> list[dict[str, Any]]:
    """Open to members who sign in."""
    lenders = MemberSignIn.objects.values("organisation")
    rows = CommonOffer.objects.filter(ended_at=None, members=None, organisation__in=lenders).order_by("pk")
    found = rows.values_list("organisation__slug", "pk").distinct()
    return [{"lender": slug, "pk": pk} for slug, pk in found]


def of_visitors(rows: Manager, member: str, field: str) -> list[dict[str, Any]]:
    """``field`` of the rows whose ``member`` signs in."""
    found = rows.filter(**{f"{member}__sign_ins__isnull": False}).order_by("pk").distinct()
    return [{"lender": slug, field: value} for slug, value in found.values_list("organisation__slug", field)]


def quoted_starters() -> list[dict[str, Any]]:
    """A starter of each unit system, for the first option that there is."""
    rows = Option.objects.order_by("pk").values_list("quote__number", "position")[:1]
    slugs = [starters()[1].slug, starters()[-1].slug]
    return [{"number": number, "position": at, "starter": slug} for number, at in rows for slug in slugs]


def passwords() -> list[dict[str, Any]]:
    """Of the links by which visitors set theirs."""
    users = User.objects.filter(visitor=True)
    key = {user: urlsafe_base64_encode(force_bytes(user.pk)) for user in users}
    return [{"uidb64": key[user], "token": default_token_generator.make_token(user)} for user in users]


#: Of one row of pipe between members, by the end of the name of its page.
PIPE_PARTS = ["", "-agree", "-refuse", "-return", "-return-agree", "-return-refuse"] + [
    f"-return-{how}" for how in ("new", "other", "money")
]
#: Arguments that are no fields of one row, or of some rows alone.
GIVEN: dict[str, Callable[[], list[dict[str, Any]]]] = {
    # Nothing that is kept tells of it.
    "crew:calendar": list,
    "crew:own-page-before": lambda: [{"rest": "days/"}],
    **dict.fromkeys(("coop:seen", "crew:own", "crew:own-ask", "crew:own-days", "crew:own-calendar"), lenders),
    "crew:own-understood": lenders,
    **dict.fromkeys(("crew:own-calendar-make", "crew:own-calendar-revoke"), lenders),
    **dict.fromkeys(("coop:seen-joints", "coop:seen-pipe-list", "coop:seen-pipe-new", "coop:seen-lots"), lenders),
    # Of what one of two members told, until the other agrees; nobody of a kept season waits for that.
    **dict.fromkeys([f"coop:seen-pipe{part}" for part in PIPE_PARTS], list),
    **dict.fromkeys(
        [f"coop:seen-pipe{part}" for part in ("", "-return-new", "-return-other", "-return-money")],
        lambda: of_visitors(PipeLoan.objects, "borrower", "pk"),
    ),
    "coop:seen-pipe-return": lambda: of_visitors(PipeReturn.objects, "loan__borrower", "pk"),
    **dict.fromkeys(("coop:seen-lot", "coop:seen-lot-leave"), lambda: of_visitors(Lot.objects, "owner", "pk")),
    "coop:seen-lot-leave-end": lambda: of_visitors(Leave.objects, "lot__owner", "pk"),
    "coop:seen-common": lenders,
    "coop:common-open-lot": lots_to_open,
    "coop:seen-common-offer": own_offers,
    "coop:seen-common-wish": lambda: own(CommonWish.objects),
    **dict.fromkeys(("coop:seen-joint", "coop:seen-joint-need", "coop:seen-joint-plan"), own_joints),
    # Of a member that is a farm here; none of a kept season is.
    **dict.fromkeys(("coop:seen-joint-stock", "coop:seen-leave"), list),
    **dict.fromkeys(("coop:seen-joint-change", "coop:seen-joint-withdraw"), own_needs),
    "crew:own-booking": lambda: own(BenderBooking.objects),
    # Of a bender that is gone or came back, where a member measured one; nobody of a kept season has.
    **dict.fromkeys(("crew:own-hoop", "crew:own-hoop-back"), list),
    "crew:own-request": lambda: own(BenderRequest.objects),
    "crew:own-withdraw": lambda: own(BenderRequest.objects),
    "coop:seen-move": lenders,
    # Known to whoever was handed one.
    "coop:card-link": list,
    "coop:booking": returned,
    "coop:damage-new": returned,
    **dict.fromkeys(("coop:seen-account", "coop:seen-account-pdf", "coop:seen-account-workbook"), lenders),
    "coop:seen-damage": lambda: of_visitors(Damage.objects, "booking__member", "pk"),
    **dict.fromkeys(
        ("coop:seen-photo", "coop:seen-photo-small"),
        lambda: of_visitors(BookingPhoto.objects, "booking__member", "pk"),
    ),
    **dict.fromkeys(
        ("coop:seen-statement-pdf", "coop:seen-statement-workbook"),
        lambda: of_visitors(SentStatement.objects, "member", "number"),
    ),
    "set-password": passwords,
    # Known to whoever was handed one.
    "access:join-link": list,
    "access:weekly-end": list,
    "quotes:offered": list,
    "quotes:offered-pdf": list,
    "quotes:change-line-remove": lambda: [
        {"number": row.job.number, "change": row.number, "at": 0}
        for row in ChangeOrder.objects.filter(state="draft").select_related("job")
    ],
    "guide:job": lambda: [{"job": job.slug} for job in JOBS],
    "quotes:house-new": quoted_starters,
    "sites:house-create": lambda: [{"starter": starter.slug} for starter in starters()],
    "stock:give-back": lambda: [{"pk": row.pk} for row in Movement.objects.filter(kind="lend")],
    "stock:swap": swaps,
}


def all_arguments(name: str, route: str) -> list[dict[str, Any]]:
    """Of every row. Raises LookupError where no beginning of the address is known."""
    if name in GIVEN:
        return GIVEN[name]()
    fits = [start for start in ROWS if route.startswith(start)]
    if not fits:
        raise LookupError(f"{route} begins like none in ROWS of {__name__}.")
    label, fields = ROWS[max(fits, key=len)]
    rows = apps.get_model(label).objects.order_by("pk").values_list(*fields.values())
    # An order that somebody made by hand is of no plan.
    return [dict(zip(fields, row, strict=True)) for row in dict.fromkeys(rows) if None not in row]


def arguments(name: str, route: str) -> list[dict[str, Any]]:
    """Of the first and the last row."""
    found = all_arguments(name, route)
    return found if name in GIVEN else [found[n] for n in sorted({0, len(found) - 1}) if found]


def addresses() -> Iterator[tuple[str, list[str]]]:
    """Each name of an address, and its addresses, none where no row is kept for it."""
    for name, route, wanted in patterns():
        yield name, [reverse(name, kwargs=given) for given in (arguments(name, route) if wanted else [{}])]
