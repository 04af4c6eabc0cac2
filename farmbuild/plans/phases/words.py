"""How far a plan is, in a sentence, and what to do next. Pages, lists and files take these words from here."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from farmbuild.measure import count_noun, format_count, format_day, join_words
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
            return f"{_all(standing.tasks, 'task')} done."
        case Phase.WORK if standing.delivery.to_come:
            return f"{_work(standing)}; {_to_come(standing.delivery)}{_more(standing, skip_coming=True)}"
        case Phase.WORK:
            return f"{_work(standing)}.{_more(standing)}"
        case Phase.ACCEPTED if standing.unsent:
            return _unsent(standing)
        case Phase.ACCEPTED:
            return "Nothing to order: the yard has all of it."
        case Phase.RECEIVED:
            return _came(standing.delivery)
        case Phase.SENT:
            return f"{_all(standing.orders, 'order')} sent; {_to_come(standing.delivery)}"
        case _:
            return _came(standing.delivery) + _more(standing, skip_coming=True)


def _work(standing: Standing) -> str:
    if not standing.tasks:
        return "Hoops are bent"
    return f"{format_count(standing.tasks_done)} of {count_noun(standing.tasks, 'task')} are done"


def _more(standing: Standing, *, skip_coming: bool = False) -> str:
    """What else keeps the plan from being done with."""
    said = []
    if standing.delivery.to_come and not skip_coming:
        said.append(_upper(_to_come(standing.delivery)))
    if standing.unsent:
        said.append(_unsent(standing))
    return "".join(f" {words}" for words in said)


def _unsent(standing: Standing) -> str:
    first = standing.to_send
    by = f"; order {first.number} goes out by {format_day(first.order_by)}" if first else ""
    one = "is" if standing.unsent == 1 else "are"
    return f"{format_count(standing.unsent)} of {count_noun(standing.orders, 'order')} {one} not sent{by}."


def _came(found: Delivery) -> str:
    """57 of 127 sticks are in; 70 to come by 12 April 2027."""
    if not found.ordered:
        return _upper(_to_come(found)) if found.to_come else "All that was ordered is in."
    if found.came >= found.ordered:
        said = f"{_all(found.ordered, 'stick')} in"
    else:
        said = (
            f"{format_count(found.came)} of {count_noun(found.ordered, 'stick')}"
            f" {'is' if found.came == 1 else 'are'} in"
        )
    return f"{said}; {_to_come(found, after_sticks=True)}" if found.to_come else f"{said}."


def _to_come(found: Delivery, *, after_sticks: bool = False) -> str:
    """What comes first by name, and the rest in a sentence of its own, so that none is long."""
    if not found.to_come:
        return "nothing is on order any more."
    first, *rest = found.to_come
    many = format_count(first.count) if after_sticks and first.noun == "stick" else count_noun(first.count, first.noun)
    said = f"{many} on order, due by {format_day(first.by)}."
    if not rest:
        return said
    others = join_words(count_noun(one.count, one.noun) for one in rest)
    return f"{said} {others} on order, due by {format_day(max(one.by for one in rest))}."


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _all(count: int, noun: str) -> str:
    return f"The {noun} is" if count == 1 else f"All {format_count(count)} {noun}s are"


def next_step(phase: Phase, standing: Standing) -> NextStep:
    """Of an accepted plan."""
    if phase == Phase.DONE:
        return NextStep("See the leftovers", reverse("stock:season-end"))
    if order := standing.to_send:
        return NextStep(f"Send order {order.number}", reverse("buying:send", args=[order.number]))
    if order := standing.to_receive:
        return NextStep(f"Receive order {order.number}", reverse("buying:receive", args=[order.number]))
    return NextStep("See the work" if standing.tasks else "Plan the work", reverse("crew:board"))


def label_of(plan: Plan, phase: Phase) -> str:
    """Of a plan that is not worked out yet, how far that is."""
    return plan.get_state_display() if phase == Phase.NOT_READY else phase.label
