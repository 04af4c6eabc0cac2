"""Sentences of common stock, at most 18 words each."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.speaking import said_count, said_list
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.measure import format_count
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
        return gettext("all members")
    return names[0] if len(names) == 1 else said_count(len(names), "member")


def names_words(offer: CommonOffer) -> str:
    return said_list(sorted(member.name for member in offer.members.all())) or gettext("all members")


def list_answer(*, offers: int, left: int, wishes: int) -> str:
    if not offers and not wishes:
        return gettext("No stock is open to members.")
    words = ngettext(
        "%(count)s piece open to members is still free", "%(count)s pieces open to members are still free", left
    ) % {"count": format_count(left)}
    if not wishes:
        return gettext("%(free)s; nobody waits for an answer.") % {"free": words}
    waits = ngettext("%(count)s request waits for an answer.", "%(count)s requests wait for an answer.", wishes)
    return f"{words}; {waits % {'count': format_count(wishes)}}"


def offer_answer(offer: CommonOffer) -> str:
    if offer.ended_at:
        return gettext("This has ended; members got %(pieces)s of it.") % {"pieces": said_count(offer.given, "piece")}
    return gettext("%(free)s of %(pieces)s can still be asked for.") % {
        "free": format_count(offer.free),
        "pieces": said_count(offer.quantity, "piece"),
    }


def wishes_answer(waiting: int) -> str:
    if not waiting:
        return gettext("Nobody waits for an answer.")
    words = ngettext(
        "%(count)s request waits for an answer; the pieces are kept until then.",
        "%(count)s requests wait for an answer; the pieces are kept until then.",
        waiting,
    )
    return words % {"count": format_count(waiting)}


def wish_answer(wish: CommonWish) -> str:
    pieces = said_count(wish.quantity, "piece")
    if wish.state == State.OPEN:
        return ngettext(
            "%(member)s asks for %(pieces)s, which is kept for it.",
            "%(member)s asks for %(pieces)s, which are kept for it.",
            wish.quantity,
        ) % {"member": wish.member, "pieces": pieces}
    return gettext("%(member)s asked for %(pieces)s: %(state)s.") % {
        "member": wish.member,
        "pieces": pieces,
        "state": STATES[State(wish.state)],
    }


def answered_words(wish: CommonWish) -> str:
    return gettext("This request is %(state)s already.") % {"state": STATES[State(wish.state)]}


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
    each = [
        gettext("%(count)s of lot %(lot)s") % {"count": format_count(offer.quantity), "lot": offer.lot.reference}
        for offer in offers
    ]
    return gettext("Open to members now: %(lots)s.") % {"lots": said_list(each)}
