"""The twelve jobs of the guide, in the order of a season, and the pages of the site where each is done."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext_lazy as _

from farmbuild.common import terms
from farmbuild.common.terms import TERMS, Term


@dataclass(frozen=True)
class Job:
    """``cautions``: kinds of work. ``pages``: names of addresses, or their beginnings where they end with a star."""

    slug: str
    title: str
    summary: str
    pages: str
    cautions: tuple[str, ...] = ()

    @property
    def template(self) -> str:
        return f"guide/jobs/{self.slug}.html"

    @cached_property
    def terms(self) -> list[Term]:
        """Those that this page explains."""
        return [term for term in TERMS.values() if term.job == self.slug]


JOBS = (
    Job(
        terms.SEASON,
        _("Begin your first season"),
        _("From an empty site to the first order, in the order that saves work."),
        "sites:houses sites:sites sites:site sites:site-new orgs:organisation orgs:choose orgs:set-up"
        " access:p* access:inv* api:* moving:*",
        ("design",),
    ),
    Job(
        terms.HOUSE,
        _("Describe a house"),
        _("Measure the field, begin with a starter, and read its take-off."),
        "sites:house* sites:site-places sites:takeoff drawings:set",
        ("survey",),
    ),
    Job(
        terms.BENDER,
        _("Set up a bender"),
        _("Fix it so that it cannot turn, and find the radius that it really makes."),
        "hoops:bender* hoops:recipe* catalogue:material*",
        ("bend",),
    ),
    Job(
        terms.BEND,
        _("Bend the first hoop"),
        _("Mark, pull, measure one hoop, and only then bend the others."),
        "hoops:batch*",
        ("trial", "join"),
    ),
    Job(
        terms.PLAN,
        _("Plan and order"),
        _("One plan for all houses, one order for each supplier, sent in time."),
        "plans:* buying:* catalogue:supplier* catalogue:offer* catalogue:l* catalogue:material-prices",
        ("design",),
    ),
    Job(
        terms.RECEIVE,
        _("Receive and store"),
        _("Write down what came, where it lies, and count it now and then."),
        "buying:receive buying:receipt stock:lots stock:lot stock:receive stock:import* stock:ledger stock:place*"
        " stock:movement stock:count* stock:labels stock:held*",
        ("handling",),
    ),
    Job(
        terms.CUT,
        _("Cut and use offcuts"),
        _("Saw what the plan says, and keep the ends that are worth keeping."),
        "plans:cutting stock:lot-cut stock:held-cut",
        ("saw",),
    ),
    Job(
        terms.PUT_UP,
        _("Put up the house"),
        _("Posts, hoops, ridge, boards and film, each when the one before is right."),
        "hoops:fit* crew:house-work",
        ("house",),
    ),
    Job(
        terms.CREW,
        _("Crew days and hours"),
        _("Who works where on which day, and what it really took."),
        "crew:* costs:*",
    ),
    Job(
        terms.QUOTE,
        _("Quote a job"),
        _("From an enquiry to a price that adds up, with options side by side."),
        "quotes:*",
        ("survey",),
    ),
    Job(
        terms.TOGETHER,
        _("Order together"),
        _("One order for several members, split to the cent and handed out by name."),
        "coop:joint* coop:seen-joint* coop:common* coop:seen-common*",
        ("handling",),
    ),
    Job(
        terms.SHARE,
        _("Share a bender and end the season"),
        _("Lend benders to other farms, and settle what remains."),
        "crew:shared crew:booking* crew:request* crew:proposal crew:sharing-rules crew:member* crew:own*"
        " coop:member* coop:card* coop:cooperatives coop:seen-move coop:seen-leave"
        " crew:bender-feed coop:seen coop:charge* coop:free-days coop:booking coop:damage* coop:account*"
        " coop:payment-new coop:statement* coop:entry coop:seen-account* coop:seen-statement*"
        " coop:seen-damage coop:seen-photo* stock:season-end* stock:loans stock:lot-lend stock:give-back"
        " stock:lot-leave* coop:pipe* coop:seen-pipe* coop:seen-lot*",
        ("bend", "handling"),
    ),
)
BY_SLUG = {job.slug: job for job in JOBS}
#: The name that fits best is the longest: a page of its own before a whole room.
_BY_PAGE = {name: job for job in JOBS for name in job.pages.split()}
_LONGEST_FIRST = sorted(_BY_PAGE, key=lambda name: (name.endswith("*"), -len(name)))


def job_of_page(name: str) -> Job | None:
    """The job that is done on the page of this name; None where the guide says nothing of it."""
    for known in _LONGEST_FIRST:
        if name == known or (known.endswith("*") and name.startswith(known[:-1])):
            return _BY_PAGE[known]
    return None
