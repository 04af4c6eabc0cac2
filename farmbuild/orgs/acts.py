"""Who may do what: the acts of an organisation, the roles that begin with them, and what a service asks for.

A service that writes carries ``@needs(Act.…)``; who is not allowed gets NotAllowed, whatever page they came by.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from functools import wraps
from inspect import Parameter, signature
from typing import Any, ParamSpec, TypeVar

from django.core.exceptions import PermissionDenied
from django.utils.translation import gettext

from farmbuild.common.speaking import said_either, said_list
from farmbuild.history.recording import recorded
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Membership, Organisation, User

#: As many are named where somebody is told whom to ask.
_NAMED = 3
P = ParamSpec("P")
R = TypeVar("R")


class Act(StrEnum):
    """What one may do in an organisation. ``words`` follow "may"."""

    words: str

    def __new__(cls, value: str, words: str) -> Act:
        act = str.__new__(cls, value)
        act._value_, act.words = value, words
        return act

    SEE = "see", gettext_noop("see the pages")
    COSTS = "costs", gettext_noop("see prices, costs and wages")
    RECORD = "record", gettext_noop("record work")
    HOUSES = "houses", gettext_noop("change houses and recipes")
    STOCK = "stock", gettext_noop("count and move stock")
    PLAN = "plan", gettext_noop("plan work, crews and purchases")
    ACCEPT = "accept", gettext_noop("accept plans")
    SEND = "send", gettext_noop("send orders")
    BENDERS = "benders", gettext_noop("run benders and their bookings")
    PEOPLE = "people", gettext_noop("say who may do what")
    OWN = "own", gettext_noop("change settings, or end what is here")


def act_words(acts: Iterable[str]) -> str:
    """Acts by their values, as they follow "may"; one that is no longer known as it was kept."""
    words = {str(act): act.words for act in Act}
    return "; ".join(words.get(act, act) for act in acts)


Role = Membership.Role
_ALL = frozenset(Act)
#: What each role begins with; ``without`` and ``also`` of a membership change it for one person.
READY_SETS: Mapping[str, frozenset[Act]] = {
    Role.OWNER: _ALL,
    Role.PLANNER: _ALL - {Act.PEOPLE, Act.OWN},
    Role.YARD: frozenset({Act.SEE, Act.RECORD, Act.STOCK, Act.BENDERS}),
    Role.CREW: frozenset({Act.RECORD}),
    Role.LOOKS: frozenset({Act.SEE}),
}
#: The roles as they stand in a refusal.
_SEVERAL = {
    Role.OWNER: gettext_noop("owners"),
    Role.PLANNER: gettext_noop("planners"),
    Role.YARD: gettext_noop("the yard"),
    Role.CREW: gettext_noop("crews"),
    Role.LOOKS: gettext_noop("people who look on"),
}


class NotAllowed(PermissionDenied):
    """An act that this person may not do here; the message says who may."""

    def __init__(self, message: str, act: Act) -> None:
        self.act = act
        super().__init__(message)


def acts_given(*, role: str, without: Iterable[str] = (), also: Iterable[str] = ()) -> frozenset[Act]:
    """What a membership of these values lets do. An act that is no longer known counts for nothing."""
    ready, without, also = READY_SETS.get(role, frozenset()), {*without}, {*also}
    return frozenset(act for act in Act if act in also or (act in ready and act not in without))


def acts_of(*, organisation: Organisation, user: User) -> frozenset[Act]:
    """None for whoever does not belong to it, is closed or is a visitor."""
    if not user.is_active or user.visitor:
        return frozenset()
    row = (
        Membership.objects.filter(organisation=organisation.pk, user=user.pk).values("role", "without", "also").first()
    )
    found = acts_given(**row) if row else frozenset()
    held = _held_to.get()
    return found & held[1] if held and held[0] == user.pk else found


#: A user for whom another program acts, and the acts beyond which it does not go, whatever they may themselves.
_held_to: ContextVar[tuple[int, frozenset[Act]] | None] = ContextVar("acts_held_to", default=None)


def hold_to(*, user: User, acts: frozenset[Act]) -> None:
    """Until ``as_before`` ends, nothing is done for this user but these acts."""
    _held_to.set((user.pk, acts))


@contextmanager
def as_before() -> Iterator[None]:
    """What is held to inside ends here."""
    before = _held_to.set(None)
    try:
        yield
    finally:
        _held_to.reset(before)


def may(*, organisation: Organisation, user: User, act: Act) -> bool:
    return act in acts_of(organisation=organisation, user=user)


def who_may(*, organisation: Organisation, act: Act) -> list[User]:
    """Everybody who may do it and can sign in, in the order in which they were added."""
    rows = Membership.objects.filter(organisation=organisation.pk, user__is_active=True, user__visitor=False)
    return [
        row.user
        for row in rows.select_related("user").order_by("pk")
        if act in acts_given(role=row.role, without=row.without, also=row.also)
    ]


def refusal(*, organisation: Organisation, act: Act) -> str:
    """Nobody but owners and planners may send orders: ask Odile or Sam."""
    roles = said_list(gettext(words) for role, words in _SEVERAL.items() if act in READY_SETS[role])
    people = [user.display_name for user in who_may(organisation=organisation, act=act)]
    if len(people) > _NAMED:
        people = [*people[: _NAMED - 1], gettext("another of them")]
    told = {"roles": roles, "act": gettext(act.words)}
    if not people:
        return gettext("Nobody but %(roles)s may %(act)s: nobody here may at present.") % told
    told["people"] = said_either(people)
    return gettext("Nobody but %(roles)s may %(act)s: ask %(people)s.") % told


def check_may(*, organisation: Organisation, user: User | None, act: Act) -> None:
    """Raise NotAllowed unless ``user`` may. None is the machine itself: loaders and work in the background."""
    if user is not None and not may(organisation=organisation, user=user, act=act):
        raise NotAllowed(refusal(organisation=organisation, act=act), act)


#: Organisation and user whose act is under way: what a service calls in turn belongs to it and is not asked again.
_under_way: ContextVar[tuple[int, int | None] | None] = ContextVar("act_under_way", default=None)
_registered: dict[str, Act] = {}


@contextmanager
def acting(*, organisation: Organisation, user: User | None, act: Act) -> Iterator[None]:
    """One user action: asked for its act once, whatever else it calls for the same person in the same organisation."""
    who = (organisation.pk, user.pk if user else None)
    if _under_way.get() == who:
        yield
        return
    check_may(organisation=organisation, user=user, act=act)
    token = _under_way.set(who)
    try:
        yield
    finally:
        _under_way.reset(token)


def needs(act: Act, *, of: str = "organisation") -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Decorate a service with keywords ``user`` and ``organisation``, or a row ``of`` which the organisation is taken.

    Stands above ``transaction.atomic``, so that a refusal opens none. What it changes is told as one act of the user.
    """

    def decorate(service: Callable[P, R]) -> Callable[P, R]:
        names = signature(service).parameters
        if any(name not in names or names[name].default is not Parameter.empty for name in ("user", of)):
            raise TypeError(f"{service.__qualname__} needs the keywords user and {of}, without a default.")
        _registered[f"{service.__module__}.{service.__qualname__}"] = act

        @wraps(service)
        def asked(*args: P.args, **kwargs: P.kwargs) -> R:
            owner: Any = kwargs[of]
            organisation = owner if isinstance(owner, Organisation) else owner.organisation
            user = kwargs["user"]
            with acting(organisation=organisation, user=user, act=act), recorded(organisation=organisation, user=user):
                return service(*args, **kwargs)

        asked.act = act  # type: ignore[attr-defined]
        return asked

    return decorate


def acts_of_services() -> Mapping[str, Act]:
    """Each service that asks for an act, by the name of its module and its own, as far as modules are loaded."""
    return dict(sorted(_registered.items()))
