"""How far a plan is, in a sentence, and what to do next. Pages, lists and files take these words from here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said, said_count, said_day, said_list
from farmbuild.measure import format_count
from farmbuild.plans.models import Plan
from farmbuild.plans.phases.selectors import Delivery, Phase, Standing


@dataclass(frozen=True)
class NextStep:
    """A page to go to."""

    label: str
    url: str


def sentence_of(phase: Phase, standing: Standing) -> str:
    """Of an accepted plan: what is in, what is still to do."""
    match phase:
        case Phase.DONE:
            words = ngettext("The task is done.", "All %(tasks)s tasks are done.", standing.tasks)
            return words % {"tasks": format_count(standing.tasks)}
        case Phase.WORK if standing.delivery.to_come:
            return f"{_and(_work(standing), _to_come(standing.delivery))}{_more(standing, skip_coming=True)}"
        case Phase.WORK:
            return f"{_work(standing)}.{_more(standing)}"
        case Phase.ACCEPTED if standing.unsent:
            return _unsent(standing)
        case Phase.ACCEPTED:
            return gettext("Nothing to order: the yard has all of it.")
        case Phase.RECEIVED:
            return _came(standing.delivery)
        case Phase.SENT:
            words = ngettext("The order is sent", "All %(orders)s orders are sent", standing.orders)
            return _and(words % {"orders": format_count(standing.orders)}, _to_come(standing.delivery))
        case _:
            return _came(standing.delivery) + _more(standing, skip_coming=True)


def _and(first: str, rest: str) -> str:
    return gettext("%(first)s; %(rest)s") % {"first": first, "rest": rest}


def _work(standing: Standing) -> str:
    if not standing.tasks:
        return gettext("Hoops are bent")
    done, tasks = format_count(standing.tasks_done), said_count(standing.tasks, "task")
    return gettext("%(done)s of %(tasks)s are done") % {"done": done, "tasks": tasks}


def _more(standing: Standing, *, skip_coming: bool = False) -> str:
    """What else keeps the plan from being done with."""
    found = []
    if standing.delivery.to_come and not skip_coming:
        found.append(_upper(_to_come(standing.delivery)))
    if standing.unsent:
        found.append(_unsent(standing))
    return "".join(f" {words}" for words in found)


def _unsent(standing: Standing) -> str:
    words = ngettext("%(unsent)s of %(orders)s is not sent", "%(unsent)s of %(orders)s are not sent", standing.unsent)
    words %= {"unsent": format_count(standing.unsent), "orders": said_count(standing.orders, "order")}
    if not (first := standing.to_send):
        return f"{words}."
    goes = gettext("order %(number)s goes out by %(day)s.") % {"number": first.number, "day": said_day(first.order_by)}
    return _and(words, goes)


def _came(found: Delivery) -> str:
    """57 of 127 sticks are in; 70 to come by 12 April 2027."""
    if not found.ordered:
        return _upper(_to_come(found)) if found.to_come else gettext("All that was ordered is in.")
    if found.came >= found.ordered:
        words = ngettext("The stick is in", "All %(sticks)s sticks are in", found.ordered)
        words %= {"sticks": format_count(found.ordered)}
    else:
        words = ngettext("%(came)s of %(sticks)s is in", "%(came)s of %(sticks)s are in", found.came)
        words %= {"came": format_count(found.came), "sticks": said_count(found.ordered, "stick")}
    return _and(words, _to_come(found, after_sticks=True)) if found.to_come else f"{words}."


def _to_come(found: Delivery, *, after_sticks: bool = False) -> str:
    """What comes first by name, and the rest in a sentence of its own, so that none is long."""
    if not found.to_come:
        return gettext("nothing is on order any more.")
    first, *rest = found.to_come
    many = format_count(first.count) if after_sticks and first.noun == "stick" else said_count(first.count, first.noun)
    words = _due(many, first.by)
    if not rest:
        return words
    return f"{words} {_due(said_list(said_count(one.count, one.noun) for one in rest), max(one.by for one in rest))}"


def _due(things: str, by: date) -> str:
    return gettext("%(things)s on order, due by %(day)s.") % {"things": things, "day": said_day(by)}


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def next_step(phase: Phase, standing: Standing) -> NextStep:
    """Of an accepted plan."""
    if phase == Phase.DONE:
        return NextStep(gettext("See the leftovers"), reverse("stock:season-end"))
    if order := standing.to_send:
        words = gettext("Send order %(number)s") % {"number": order.number}
        return NextStep(words, reverse("buying:send", args=[order.number]))
    if order := standing.to_receive:
        words = gettext("Receive order %(number)s") % {"number": order.number}
        return NextStep(words, reverse("buying:receive", args=[order.number]))
    return NextStep(gettext("See the work") if standing.tasks else gettext("Plan the work"), reverse("crew:board"))


def label_of(plan: Plan, phase: Phase) -> str:
    """Of a plan that is not worked out yet, how far that is."""
    return str(plan.get_state_display()) if phase == Phase.NOT_READY else said(phase.label)
