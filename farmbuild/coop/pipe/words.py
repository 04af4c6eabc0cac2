"""Sentences of pipe between members, at most 18 words each."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.measure import amounts_shown, count_noun, format_count, format_day, format_money
from farmbuild.stock.models import Lot

Kind = PipeLoan.Kind


def item_of(loan: PipeLoan) -> str:
    return item_words(loan.material, loan.length, loan.organisation)


def lot_words(lot: Lot, *, whose: bool) -> str:
    """L-0007: 10 of rail, 20 ft; with its owner."""
    said = f"{lot}: {format_count(lot.on_hand)} of {item_words(lot.material, lot.length, lot.organisation)}"
    return f"{said}, {lot.owner}’s" if whose else said


def kind_words(loan: PipeLoan) -> str:
    if loan.kind == Kind.LENT:
        return "Lent"
    return "Given for money" if loan.price else "Given"


def state_words(loan: PipeLoan, today: date) -> str:
    """How far it is, in a table. ``loan`` has ``out``."""
    if loan.back_at:
        return "taken back"
    if loan.agreed_at is None:
        return f"waits for {loan.asked_of}"
    if loan.kind == Kind.GIVEN:
        return "given for money" if loan.price else "given"
    if loan.out == 0:
        return "settled"
    return f"was due {format_day(loan.back_until)}" if loan.back_until and loan.back_until < today else "out"


def waits_answer(row: PipeLoan | PipeReturn, own: bool) -> str:
    """``own``: for whoever is asked."""
    return "It counts once you agree." if own else f"It counts once {row.asked_of} agrees."


def loan_answer(loan: PipeLoan, today: date, own: bool) -> str:
    """The first sentence of its page; ``own``: of whoever is asked."""
    if loan.back_at:
        return "It is taken back and counts no more."
    if loan.agreed_at is None:
        return waits_answer(loan, own)
    pieces = count_noun(loan.quantity, "piece")
    if loan.kind == Kind.GIVEN:
        money = f" for {format_money(loan.price, loan.organisation.currency)} each" if _priced(loan.price) else ""
        return f"{loan.lender} gave {loan.borrower} {pieces}{money}."
    if loan.out == 0:
        return f"All {pieces} are settled." if loan.quantity > 1 else "It is settled."
    due = ""
    if loan.back_until:
        due = f", {'overdue since' if loan.back_until < today else 'back by'} {format_day(loan.back_until)}"
    of = "" if loan.out == loan.quantity else f"{format_count(loan.out)} of "
    return f"{loan.borrower} owes {loan.lender} {of}{pieces}{due}."


def _priced(price: Decimal) -> bool:
    return bool(price) and amounts_shown()


def return_words(row: PipeReturn) -> str:
    """What settled how many pieces of the loan."""
    currency = row.organisation.currency
    if row.in_money:
        at = f" at {format_money(row.price, currency)} each" if _priced(row.price) else ""
        return f"{count_noun(row.quantity, 'piece')} turned into money{at}"
    damaged = f", {format_count(row.damaged)} damaged" if row.damaged else ""
    if row.came is None:
        return f"{count_noun(row.quantity, 'piece')} came back{damaged}"
    what = item_words(row.material, row.length, row.organisation)
    said = f"{count_noun(row.came, 'piece')} of {what} came for {format_count(row.quantity)}{damaged}"
    if not row.price:
        return f"{said}, pieces by pieces"
    if not amounts_shown():
        return f"{said}, by value"
    return f"{said}, at {format_money(row.came_price, currency)} against {format_money(row.price, currency)} each"


def return_state(row: PipeReturn) -> str:
    if row.back_at:
        return "taken back"
    if row.agreed_at is None:
        return f"waits for {row.asked_of}"
    return f"counts since {format_day(row.day)}"


def owing_answer(borrowers: int, waiting: int) -> str:
    """Of the page of all."""
    said = f"{count_noun(borrowers, 'member')} {'owes' if borrowers == 1 else 'owe'} others pipe" if borrowers else ""
    said = said or "No member owes another any pipe"
    if not waiting:
        return f"{said}."
    return f"{said}; {count_noun(waiting, 'entry', 'entries')} {'waits' if waiting == 1 else 'wait'} for an answer."


def own_answer(owes: int, owed: int, waiting: int) -> str:
    """Of a member: pieces of its loans either way, and what waits for it."""
    parts = []
    if waiting:
        parts.append(f"{count_noun(waiting, 'entry', 'entries')} {'waits' if waiting == 1 else 'wait'} for your answer")
    if owes:
        parts.append(f"you owe {count_noun(owes, 'piece')}")
    if owed:
        parts.append(f"{count_noun(owed, 'piece')} {'is' if owed == 1 else 'are'} owed to you")
    said = "; ".join(parts) or "nothing is lent or borrowed"
    return f"{said[0].upper()}{said[1:]}."
