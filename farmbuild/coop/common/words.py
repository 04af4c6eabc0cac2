"""Sentences of common stock, at most 18 words each."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.speaking import said_count
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.measure import count_noun, format_count, join_words
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Lot

State = CommonWish.State
#: As its cooperative and the member read it.
STATES = {
    State.OPEN: _("waits for an answer"),
    State.GIVEN: _("given"),
    State.DECLINED: _("declined"),
    State.WITHDRAWN: _("withdrawn"),
}


def lot_item_words(lot: Lot, organisation: Organisation) -> str:
    """1-3/8 top rail, 10': in the units of who reads it."""
    words = item_words(lot.material, lot.length, organisation)
    return gettext("%(what)s, offcut") % {"what": words} if lot.offcut else words


def whom_words(offer: CommonOffer) -> str:
    """Its name where it is one alone: more names than that find no room in a row."""
    names = [member.name for member in offer.members.all()]
    if not names:
        return "all members"
    return names[0] if len(names) == 1 else count_noun(len(names), "member")


def names_words(offer: CommonOffer) -> str:
    return join_words(sorted(member.name for member in offer.members.all())) or "all members"


def list_answer(*, offers: int, left: int, wishes: int) -> str:
    if not offers and not wishes:
        return "No stock is open to members."
    words = f"{count_noun(left, 'piece')} open to members {'is' if left == 1 else 'are'} still free"
    if not wishes:
        return f"{words}; nobody waits for an answer."
    return f"{words}; {count_noun(wishes, 'request')} wait{'s' * (wishes == 1)} for an answer."


def offer_answer(offer: CommonOffer) -> str:
    if offer.ended_at:
        return f"This has ended; members got {count_noun(offer.given, 'piece')} of it."
    return f"{format_count(offer.free)} of {count_noun(offer.quantity, 'piece')} can still be asked for."


def wishes_answer(waiting: int) -> str:
    if not waiting:
        return "Nobody waits for an answer."
    return f"{count_noun(waiting, 'request')} wait{'s' * (waiting == 1)} for an answer; the pieces are kept until then."


def wish_answer(wish: CommonWish) -> str:
    pieces = count_noun(wish.quantity, "piece")
    if wish.state == State.OPEN:
        return f"{wish.member} asks for {pieces}, which {'is' if wish.quantity == 1 else 'are'} kept for it."
    return f"{wish.member} asked for {pieces}: {STATES[State(wish.state)]}."


def answered_words(wish: CommonWish) -> str:
    return f"This request is {STATES[State(wish.state)]} already."


def lost_words(cooperative: str, what: str, pieces: int, state: CommonWish.State, answer: str) -> str:
    """As a plan that counted on it says it; "" where it still may."""
    if state == State.DECLINED:
        return f"{cooperative} declined {format_count(pieces)} of {what}: {answer}"
    if state == State.WITHDRAWN:
        said = f"{format_count(pieces)} of {what} {'is' if pieces == 1 else 'are'} asked of {cooperative} no more"
        return f"{said}: {answer}" if answer else said
    return ""


def own_answer(*, offers: int, waiting: int) -> str:
    words = gettext("Nothing is open to you at present")
    if offers:
        words = ngettext(
            "%(count)s lot of common stock is open to you", "%(count)s lots of common stock are open to you", offers
        ) % {"count": format_count(offers)}
    return f"{words}{_waiting(waiting)}."


def _waiting(waiting: int) -> str:
    if not waiting:
        return ""
    words = ngettext("; %(count)s request of yours waits", "; %(count)s requests of yours wait", waiting)
    return words % {"count": format_count(waiting)}


def own_wish_answer(wish: CommonWish) -> str:
    given = {"pieces": said_count(wish.quantity, "piece"), "state": STATES[State(wish.state)]}
    if wish.state == State.OPEN:
        words = ngettext(
            "You asked for %(pieces)s; it is kept for you.",
            "You asked for %(pieces)s; they are kept for you.",
            wish.quantity,
        )
    elif wish.state == State.GIVEN:
        words = gettext("You were given %(pieces)s.")
    else:
        words = gettext("You asked for %(pieces)s: %(state)s.")
    return words % given


def opened_words(offers: list[CommonOffer]) -> str:
    """Which pieces were taken from which lots."""
    each = [f"{format_count(offer.quantity)} of lot {offer.lot.reference}" for offer in offers]
    return f"Open to members now: {join_words(each)}."
