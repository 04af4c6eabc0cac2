"""A quote is accepted: by the customer at a link, or entered for them.

It makes the houses of the option, puts them into the job, and starts a plan of them that is only tried: nothing is
ordered or held by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day
from farmbuild.measure import format_money
from farmbuild.orgs.acts import Act, may, needs
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.services import create_plan
from farmbuild.plans.tasks import start_once_stored
from farmbuild.quotes.bridge import OfferedOption, offered_of
from farmbuild.quotes.models import Acceptance, Job, JobHouse, Option, OptionHouse, QuoteLink, QuoteVersion
from farmbuild.quotes.pricing.specs import MissingRow, houses_from
from farmbuild.quotes.sending.agreed import agreed_digest
from farmbuild.quotes.sending.services import lock_job
from farmbuild.sites.bridge import SPEC_FIELDS
from farmbuild.sites.models import House, Site
from farmbuild.sites.names import house_names, numbered_on
from farmbuild.sites.services import create_house, create_site

#: Days from the acceptance to the day from which materials are needed, until somebody says another.
NEED_AHEAD = timedelta(days=60)
_OWN_ROW = ("material", "quantity", "per", "length", "step", "note")


@dataclass(frozen=True)
class Answer:
    """What was typed. ``option``: key of its row. ``name``: of who says so. ``how``: of an answer on behalf alone."""

    option: int
    name: str
    day: date
    how: str = ""


@transaction.atomic
def accept_by_link(*, link: QuoteLink, answer: Answer) -> Acceptance:
    """By the customer, at an open link. Raises ValidationError in words that a customer can act on."""
    organisation = link.organisation
    if link.version is None:
        raise ValidationError(gettext("This link is of a change order."))
    today = today_of(organisation=organisation)
    return _accept(organisation, None, link.version, answer, today=today, until=today, link=link)


@needs(Act.ACCEPT)
@transaction.atomic
def accept_on_behalf(
    *, organisation: Organisation, user: User, version: QuoteVersion, answer: Answer, site: Site | None = None
) -> Acceptance:
    """What a customer said otherwise, on the day on which it was said. ``site``: None makes one for the customer.

    Raises ValidationError by field.
    """
    if not answer.how.strip():
        raise ValidationError({"how": gettext("Say how it was said, for example: by telephone.")})
    if site and site.organisation_id != organisation.pk:
        raise ValidationError({"site": gettext("Choose one of your own sites.")})
    today = today_of(organisation=organisation)
    return _accept(organisation, user, version, answer, today=today, until=answer.day, site=site)


def _accept(
    organisation: Organisation,
    user: User | None,
    version: QuoteVersion,
    answer: Answer,
    *,
    today: date,
    until: date,
    link: QuoteLink | None = None,
    site: Site | None = None,
) -> Acceptance:
    """``until``: the day that has to be within those of the version."""
    job = lock_job(organisation=organisation, job=version.quote.job_id)
    version = QuoteVersion.objects.of(organisation).select_related("quote").get(pk=version.pk)
    check_acceptable(version=version, job=job, day=until)
    _check_typed(version, answer, today)
    offered = offered_of(version.shown).option(answer.option)
    option = Option.objects.of(organisation).filter(pk=answer.option, quote=version.quote_id).first()
    if offered is None or option is None:
        raise ValidationError({"option": gettext("Choose one of the options.")})
    accepted = Acceptance(
        organisation=organisation,
        job=job,
        version=version,
        option=option,
        option_name=offered.name,
        name=answer.name.strip(),
        day=answer.day,
        how=answer.how.strip(),
        link=link,
        by_user=user,
        before_tax=offered.before_tax,
        tax=offered.tax,
        total=offered.total,
    )
    accepted.full_clean(exclude=["by_user"])
    accepted.save()
    version.state = QuoteVersion.State.ACCEPTED
    version.save(update_fields=["state"])
    houses = _make_houses(organisation, user, job, version, offered, site, today)
    job.state = Job.State.ACCEPTED
    job.save(update_fields=["state", "site"])
    _try_plan(organisation, user or version.sent_by, job, houses, today)
    return accepted


def _try_plan(organisation: Organisation, user: User | None, job: Job, houses: list[House], today: date) -> None:
    """A plan of the houses that is only tried: who may accept plans looks at it first.

    It is made in the name of who entered the acceptance or sent the quote. Where neither may plan any more, or the plan
    is refused, the job says that there is none.
    """
    if user is None or not may(organisation=organisation, user=user, act=Act.PLAN):
        return
    try:
        with transaction.atomic():
            request = create_plan(
                organisation=organisation,
                user=user,
                name=f"{job.reference} {job.name}"[:120],
                houses=houses,
                delivery_site=job.site,
                as_of=today,
            )
    except ValidationError:
        return
    job.plan = request.plan
    job.save(update_fields=["plan"])
    start_once_stored(plan=request.plan)


def check_acceptable(*, version: QuoteVersion, job: Job, day: date) -> None:
    """Raise ValidationError where the version cannot be accepted on that day: who has, what is newer, or since when."""
    organisation = version.organisation
    before = Acceptance.objects.filter(job=job).first()
    if before:
        local = before.at.astimezone(zone_of(organisation=organisation))
        raise ValidationError(
            gettext("%(name)s accepted %(option)s already, for %(total)s: on %(day)s at %(time)s.")
            % {
                "name": before.name,
                "option": before.option_name,
                "total": format_money(before.total, version.currency),
                "day": said_day(local.date()),
                "time": f"{local:%H:%M}",
            }
        )
    if words := no_longer_holds(version):
        raise ValidationError(words)
    if not job.is_live:
        raise ValidationError(
            gettext("This job is closed. Ask %(organisation)s for a new quote.") % {"organisation": organisation.name}
        )
    if day > version.valid_until:
        raise ValidationError(
            gettext("This quote held until %(valid_until)s. Ask %(organisation)s for a new one.")
            % {"valid_until": said_day(version.valid_until), "organisation": organisation.name}
        )


def no_longer_holds(version: QuoteVersion) -> str:
    """Why a version is not to be accepted any more, in a sentence; empty while it may be."""
    newer = version.quote.versions.filter(number__gt=version.number).order_by("-number").first()
    if newer:
        return gettext("Version %(number)s no longer holds: version %(number2)s was sent on %(date)s.") % {
            "number": version.number,
            "number2": newer.number,
            "date": said_day(newer.sent_at.astimezone(zone_of(organisation=version.organisation)).date()),
        }
    if version.state == QuoteVersion.State.WITHDRAWN:
        return gettext("Version %(number)s no longer holds: %(organisation)s took it back.") % {
            "number": version.number,
            "organisation": version.organisation.name,
        }
    return ""


def _check_typed(version: QuoteVersion, answer: Answer, today: date) -> None:
    problems = {}
    if not answer.name.strip():
        problems["name"] = gettext("Type the name of who accepts.")
    sent = version.sent_at.astimezone(zone_of(organisation=version.organisation)).date()
    # Around the world it may be tomorrow already where the customer is.
    if answer.day > today + timedelta(days=1):
        problems["day"] = gettext("%(day)s is still to come. Type the day of today.") % {"day": said_day(answer.day)}
    elif answer.day < sent - timedelta(days=1):
        problems["day"] = gettext("It was sent on %(sent)s. Type that day or a later one.") % {"sent": said_day(sent)}
    if problems:
        raise ValidationError(problems)


def _make_houses(
    organisation: Organisation,
    user: User | None,
    job: Job,
    version: QuoteVersion,
    offered: OfferedOption,
    site: Site | None,
    today: date,
) -> list[House]:
    """Those of the option, as they were sent, on the site of the job; ``job`` gets its site."""
    rows = _as_sent(organisation, version, offered)
    job.site = site or job.site or _site_for(organisation, user, job)
    try:
        unsaved = houses_from(rows, organisation=organisation)
    except MissingRow as error:
        raise ValidationError(
            gettext("%(organisation)s cannot build this as it was offered any more. %(error)s")
            % {"organisation": organisation.name, "error": error}
        ) from error
    houses = []
    for row, house in zip(rows, unsaved, strict=True):
        data = {name: getattr(house, name) for name in SPEC_FIELDS}
        own = [{name: getattr(one, name) for name in _OWN_ROW} for one in house.typed_rows or ()]
        for name in _free_names(job.site, row):
            houses.append(
                create_house(
                    organisation=organisation,
                    user=user,
                    site=job.site,
                    name=name,
                    need_date=today + NEED_AHEAD,
                    data=data,
                    own_rows=own,
                )
            )
    # As they are stored, with every place of their numbers, and so as they are read later.
    stored = House.objects.select_related("recipe__tube").in_bulk([house.pk for house in houses])
    for house in houses:
        agreed = agreed_digest(stored[house.pk])
        JobHouse.objects.create(organisation=organisation, job=job, house=house, agreed=agreed)
    return houses


def _free_names(site: Site, row: OptionHouse) -> list[str]:
    """Numbered on past the houses that stand there already."""
    taken = house_names(site)
    names = numbered_on(row.name, row.quantity + 1, taken)
    return names[1:] if row.name.casefold() in taken else names[:-1]


def _as_sent(organisation: Organisation, version: QuoteVersion, offered: OfferedOption) -> list[OptionHouse]:
    """Rows as they stood when the version went out, whatever the quote says now; none of them is stored."""
    shown = next(row for row in version.shown["options"] if row["option"] == offered.option)
    return [
        OptionHouse(
            organisation=organisation,
            position=at,
            name=house["name"],
            quantity=house["quantity"],
            spec=house["spec"],
            own_rows=house["own_rows"],
        )
        for at, house in enumerate(shown["houses"], 1)
    ]


def _site_for(organisation: Organisation, user: User | None, job: Job) -> Site:
    """A new site by the name of the customer; one that is there by that name is another's until somebody says so."""
    taken = {name.casefold() for name in Site.objects.of(organisation).values_list("name", flat=True)}
    name = job.customer.name[:100]
    if name.casefold() in taken:
        name = f"{name}, {job.reference}"
    return create_site(organisation=organisation, user=user, name=name, address=job.customer.address)
