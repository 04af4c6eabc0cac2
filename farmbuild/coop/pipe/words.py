"""Sentences of pipe between members, at most 18 words each."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.utils.translation import gettext, ngettext, pgettext

from farmbuild.common.speaking import said_count, said_day
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.measure import amounts_shown, format_count, format_money
from farmbuild.stock.models import Lot

Kind = PipeLoan.Kind


def item_of(loan: PipeLoan) -> str:
    return item_words(loan.material, loan.length, loan.organisation)


def lot_words(lot: Lot, *, whose: bool) -> str:
    """L-0007: 10 of rail, 20 ft; with its owner."""
    what = item_words(lot.material, lot.length, lot.organisation)
    said = gettext("%(lot)s: %(count)s of %(what)s") % {"lot": lot, "count": format_count(lot.on_hand), "what": what}
    return f"{said}, {lot.owner}’s" if whose else said


def kind_words(loan: PipeLoan) -> str:
    if loan.kind == Kind.LENT:
        return gettext("Lent")
    return gettext("Given for money") if loan.price else gettext("Given")


def state_words(loan: PipeLoan, today: date) -> str:
    """How far it is, in a table. ``loan`` has ``out``."""
    if loan.back_at:
        return gettext("taken back")
    if loan.agreed_at is None:
        return gettext("waits for %(who)s") % {"who": loan.asked_of}
    if loan.kind == Kind.GIVEN:
        return gettext("given for money") if loan.price else gettext("given")
    if loan.out == 0:
        return gettext("settled")
    if loan.back_until and loan.back_until < today:
        return gettext("was due %(day)s") % {"day": said_day(loan.back_until)}
    return pgettext("lent pieces", "out")


def waits_answer(row: PipeLoan | PipeReturn, own: bool) -> str:
    """``own``: for whoever is asked."""
    if own:
        return gettext("It counts once you agree.")
    return gettext("It counts once %(who)s agrees.") % {"who": row.asked_of}


def loan_answer(loan: PipeLoan, today: date, own: bool) -> str:
    """The first sentence of its page; ``own``: of whoever is asked."""
    if loan.back_at:
        return gettext("It is taken back and counts no more.")
    if loan.agreed_at is None:
        return waits_answer(loan, own)
    pieces = said_count(loan.quantity, "piece")
    given = {"lender": loan.lender, "borrower": loan.borrower, "pieces": pieces}
    if loan.kind == Kind.GIVEN:
        if not _priced(loan.price):
            return gettext("%(lender)s gave %(borrower)s %(pieces)s.") % given
        money = format_money(loan.price, loan.organisation.currency)
        return gettext("%(lender)s gave %(borrower)s %(pieces)s for %(money)s each.") % (given | {"money": money})
    if loan.out == 0:
        return gettext("All %(pieces)s are settled.") % given if loan.quantity > 1 else gettext("It is settled.")
    if loan.out < loan.quantity:
        out = format_count(loan.out)
        given["pieces"] = gettext("%(filled)s of %(whole)s") % {"filled": out, "whole": pieces}
    words = gettext("%(borrower)s owes %(lender)s %(pieces)s.")
    if loan.back_until:
        given["day"] = said_day(loan.back_until)
        words = gettext("%(borrower)s owes %(lender)s %(pieces)s, back by %(day)s.")
        if loan.back_until < today:
            words = gettext("%(borrower)s owes %(lender)s %(pieces)s, overdue since %(day)s.")
    return words % given


def _priced(price: Decimal) -> bool:
    return bool(price) and amounts_shown()


def return_words(row: PipeReturn) -> str:
    """What settled how many pieces of the loan."""
    currency = row.organisation.currency
    if row.in_money:
        words = gettext("%(pieces)s turned into money")
        if _priced(row.price):
            words = gettext("%(pieces)s turned into money at %(price)s each")
        given = {"pieces": said_count(row.quantity, "piece"), "price": format_money(row.price, currency)}
        return words % given
    damaged = gettext(", %(count)s damaged") % {"count": format_count(row.damaged)} if row.damaged else ""
    if row.came is None:
        pieces = said_count(row.quantity, "piece")
        said = ngettext("%(pieces)s came back", "%(pieces)s came back", row.quantity) % {"pieces": pieces}
        return f"{said}{damaged}"
    said = gettext("%(pieces)s of %(what)s came for %(count)s") % {
        "pieces": said_count(row.came, "piece"),
        "what": item_words(row.material, row.length, row.organisation),
        "count": format_count(row.quantity),
    }
    if not row.price:
        how = gettext(", pieces by pieces")
    elif not amounts_shown():
        how = gettext(", by value")
    else:
        prices = {"came": format_money(row.came_price, currency), "lent": format_money(row.price, currency)}
        how = gettext(", at %(came)s against %(lent)s each") % prices
    return f"{said}{damaged}{how}"


def return_state(row: PipeReturn) -> str:
    if row.back_at:
        return gettext("taken back")
    if row.agreed_at is None:
        return gettext("waits for %(who)s") % {"who": row.asked_of}
    return gettext("counts since %(day)s") % {"day": said_day(row.day)}


def owing_answer(borrowers: int, waiting: int) -> str:
    """Of the page of all."""
    words = ngettext("%(count)s member owes others pipe", "%(count)s members owe others pipe", borrowers)
    said = words % {"count": format_count(borrowers)} if borrowers else ""
    said = said or gettext("No member owes another any pipe")
    if not waiting:
        return f"{said}."
    words = ngettext("%(count)s entry waits for an answer.", "%(count)s entries wait for an answer.", waiting)
    return f"{said}; {words % {'count': format_count(waiting)}}"


def own_answer(owes: int, owed: int, waiting: int) -> str:
    """Of a member: pieces of its loans either way, and what waits for it."""
    parts = []
    if waiting:
        words = ngettext("%(count)s entry waits for your answer", "%(count)s entries wait for your answer", waiting)
        parts.append(words % {"count": format_count(waiting)})
    if owes:
        parts.append(gettext("you owe %(pieces)s") % {"pieces": said_count(owes, "piece")})
    if owed:
        words = ngettext("%(pieces)s is owed to you", "%(pieces)s are owed to you", owed)
        parts.append(words % {"pieces": said_count(owed, "piece")})
    said = "; ".join(parts) or gettext("nothing is lent or borrowed")
    return f"{said[0].upper()}{said[1:]}."
