"""The steps of a first season, in their order, each with the form in which it is done."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.urls import reverse
from django.utils.translation import gettext as _

from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.first_season.selectors import Facts, facts_of
from farmbuild.plans.models import Plan


@dataclass(frozen=True)
class Step:
    """``is_next``: the one to do now."""

    name: str
    why: str
    label: str
    url: str
    done: bool
    is_next: bool = False


@dataclass(frozen=True)
class FirstSeason:
    steps: tuple[Step, ...]

    @property
    def done(self) -> int:
        return sum(step.done for step in self.steps)

    @property
    def next(self) -> Step:
        return next(step for step in self.steps if step.is_next)


def first_season_of(*, organisation: Organisation, user: User) -> FirstSeason | None:
    """None once an order has gone out, and for people who do not plan. One query."""
    facts = facts_of(organisation=organisation, user=user)
    return FirstSeason(_one_next(_steps(facts), facts)) if facts else None


def _steps(facts: Facts) -> list[Step]:
    return [
        Step(
            _("A site"), _("the field where your houses stand"), _("Add a site"), reverse("sites:site-new"), facts.site
        ),
        Step(
            _("A house"), _("from a starter that you change"), _("Add a house"), reverse("sites:house-new"), facts.house
        ),
        Step(
            _("The yard"),
            _("what lies there already, if anything does"),
            _("Enter the yard"),
            reverse("stock:yard"),
            facts.lots,
        ),
        Step(_("Suppliers"), _("with the prices that plans choose from"), *_suppliers(facts), facts.offers),
        Step(_("A plan"), _("what to cut, use and buy"), *_plan(facts), facts.accepted or facts.draft is not None),
        Step(_("An order"), _("its spreadsheet goes to the supplier"), *_order(facts), done=False),
    ]


def _suppliers(facts: Facts) -> tuple[str, str]:
    if not facts.suppliers:
        return _("Add a supplier"), reverse("catalogue:supplier-new")
    if facts.supplier:
        return _("Add prices"), reverse("catalogue:list-new", args=[facts.supplier])
    return _("Add prices"), reverse("catalogue:suppliers")


def _plan(facts: Facts) -> tuple[str, str]:
    if facts.plan is None:
        return _("Plan a season"), reverse("plans:new")
    words = {
        Plan.State.READY: _("Accept plan %(number)s"),
        Plan.State.FAILED: _("See why plan %(number)s stopped"),
    }
    said = words.get(Plan.State(facts.plan_state), _("See plan %(number)s"))
    return said % {"number": facts.plan}, reverse("plans:plan", args=[facts.plan])


def _order(facts: Facts) -> tuple[str, str]:
    if facts.draft:
        return _("Send order %(number)s") % {"number": facts.draft}, reverse("buying:send", args=[facts.draft])
    return _("See orders"), reverse("buying:orders")


def _one_next(steps: list[Step], facts: Facts) -> tuple[Step, ...]:
    """The first that is not done; an empty yard is passed by once there are prices or a plan."""
    passed = facts.offers or facts.plan is not None or steps[4].done
    for at, step in enumerate(steps):
        if not step.done and not (at == 2 and passed):
            steps[at] = replace(step, is_next=True)
            break
    return tuple(steps)
