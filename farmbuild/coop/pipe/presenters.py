"""What pages of pipe show, gathered once: for the manager, and for one of the two."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_count, said_day
from farmbuild.coop.joint.drawings import Bar, Bars, bars_drawn
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe import selectors
from farmbuild.coop.pipe.amounts import amount_given
from farmbuild.coop.pipe.selectors import Owed
from farmbuild.coop.pipe.words import (
    item_of,
    kind_words,
    loan_answer,
    owing_answer,
    own_answer,
    return_state,
    return_words,
    waits_answer,
)
from farmbuild.crew.models import Member
from farmbuild.measure import amounts_shown, format_count, format_money
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.stock.leave import in_words, leaves_of, standing_leaves
from farmbuild.stock.models import Leave, Lot

#: Materials and lengths that are drawn, of which most pieces are owed; tables have all.
DRAWN = 4


@dataclass(frozen=True)
class AllPipe:
    """``owed``: rows of pieces, ``money``: rows of amounts."""

    answer: str
    bars: SafeString | str
    owed: Sequence[Mapping[str, Any]]
    money: Sequence[Mapping[str, Any]]


def all_pipe(*, organisation: Organisation, member: Member | None) -> AllPipe:
    out = selectors.owed_of(selectors.out_of(selectors.pipe_shown(organisation=organisation, member=member)))
    owing = {row.borrower.pk for row in out if row.net} | {row.lender.pk for row in out if row.back}
    money = selectors.money_of(organisation=organisation, member=member) if amounts_shown() else []
    waiting = selectors.waiting_count(organisation=organisation, member=member)
    return AllPipe(
        answer=owing_answer(len(owing), waiting),
        bars=_owed_bars(out, organisation),
        owed=[line for row in out for line in _owed_lines(row, organisation)],
        money=[{"borrower": row.borrower.name, "lender": row.lender.name, "amount": row.amount} for row in money],
    )


def _owed_lines(row: Owed, organisation: Organisation) -> list[dict[str, Any]]:
    """Each way in a line of its own; what is left of both where there are two."""
    what = item_words(row.material, row.length, organisation)
    one, other = row.borrower.name, row.lender.name
    net = row.net if row.back else None
    lines = [{"borrower": one, "lender": other, "what": what, "pieces": row.there, "net": net}]
    return lines + [{"borrower": other, "lender": one, "what": what, "pieces": row.back, "net": None}] * bool(row.back)


def _owed_bars(rows: Iterable[Owed], organisation: Organisation) -> SafeString | str:
    """Each way by itself, those of one material and length to one scale."""
    groups: dict[str, list[Bar]] = {}
    for row in rows:
        bars = groups.setdefault(item_words(row.material, row.length, organisation), [])
        bars.append(
            Bar(gettext("%(borrower)s to %(lender)s") % {"borrower": row.borrower, "lender": row.lender}, row.there)
        )
        if row.back:
            bars.append(
                Bar(gettext("%(lender)s to %(borrower)s") % {"lender": row.lender, "borrower": row.borrower}, row.back)
            )
    return bars_drawn(_most(groups), gettext("Pieces owed each way"))


def _most(groups: Mapping[str, Sequence[Bar]]) -> list[Bars]:
    drawn = [Bars(what, bars) for what, bars in groups.items()]
    return sorted(drawn, key=lambda group: -group.whole)[:DRAWN]


@dataclass(frozen=True)
class LoanPage:
    """``returns``: each with words, state and address. ``main``: what comes next, as ``agree`` or ``return``."""

    loan: PipeLoan
    title: str
    answer: str
    bars: SafeString | str
    facts: Sequence[tuple[str, str]]
    returns: Sequence[Mapping[str, Any]]
    main: str
    counts: bool


def loan_page(loan: PipeLoan, *, member: Member | None = None) -> LoanPage:
    """For the manager, or for one of the two; ``loan`` has what ``pipe_of`` adds."""
    today = today_of(organisation=loan.organisation)
    waits = loan.agreed_at is None and loan.back_at is None
    lent = loan.kind == PipeLoan.Kind.LENT and not waits and not loan.back_at
    main = "return" if lent and loan.untold else ""
    if waits:
        main = "agree" if member is None or asked_is(loan, member) else "withdraw"
    bar = Bars(item_of(loan), [Bar(_one_to_other(loan.borrower, loan.lender), loan.quantity, loan.settled)])
    return LoanPage(
        loan=loan,
        title=gettext("%(kind)s: %(pieces)s, %(who)s")
        % {
            "kind": kind_words(loan),
            "pieces": said_count(loan.quantity, "piece"),
            "who": _one_to_other(loan.lender, loan.borrower),
        },
        answer=loan_answer(loan, today, asked_is(loan, member)),
        bars=bars_drawn([bar], gettext("How much of it is settled")) if lent else "",
        facts=_loan_facts(loan),
        returns=[_returned(row, member) for row in selectors.returns_of(loan=loan)],
        main=main,
        counts=not loan.back_at and not waits,
    )


def _one_to_other(one: Member, other: Member) -> str:
    return gettext("%(one)s to %(other)s") % {"one": one, "other": other}


def asked_is(row: PipeLoan | PipeReturn, member: Member | None) -> bool:
    return member is not None and row.asked_of_id == member.pk


def _loan_facts(loan: PipeLoan) -> list[tuple[str, str]]:
    facts = [
        (gettext("What"), item_of(loan)),
        (gettext("Pieces"), format_count(loan.quantity)),
        (gettext("Day"), said_day(loan.day)),
        (gettext("Back by"), said_day(loan.back_until) if loan.back_until else ""),
        (gettext("Out of"), _whence(loan)),
        (gettext("Note"), loan.note),
    ]
    if loan.price and amounts_shown():
        currency = loan.organisation.currency
        each = format_money(loan.price, currency)
        whole = format_money(amount_given(loan, currency), currency)
        said = gettext("%(each)s each, %(whole)s in all") % {"each": each, "whole": whole}
        facts.insert(2, (gettext("Price"), said))
    return [(name, value) for name, value in [*facts, *_told(loan)] if value]


def _whence(loan: PipeLoan) -> str:
    if loan.lot_id:
        return gettext("lot %(lot)s in the common yard") % {"lot": loan.lot}
    return gettext("%(who)s’s own yard") % {"who": loan.lender}


def _told(row: PipeLoan | PipeReturn) -> list[tuple[str, str]]:
    """Who said what of it."""
    facts = [(gettext("Told by"), row.by.display_name if row.by else "")]
    if row.agreed_at and row.asked_of_id:
        facts.append((gettext("Agreed by"), row.agreed_by.display_name if row.agreed_by else ""))
    return [*facts, (gettext("Why it is taken back"), row.back_because)]


def _returned(row: PipeReturn, member: Member | None) -> dict[str, Any]:
    lender = [row.organisation.slug] if member else []
    name = "coop:seen-pipe-return" if member else "coop:pipe-return"
    return {"words": return_words(row), "state": return_state(row), "url": reverse(name, args=[*lender, row.pk])}


def return_page(row: PipeReturn, *, member: Member | None = None) -> dict[str, Any]:
    """``main``: agree, withdraw, or nothing."""
    waits = row.agreed_at is None and row.back_at is None
    main = "agree" if waits and (member is None or asked_is(row, member)) else "withdraw" if waits else ""
    loan, moved = row.loan, row.movement and row.movement.lot
    facts = [
        (gettext("For"), _pieces_to(loan)),
        (gettext("Day"), said_day(row.day)),
        (gettext("Into"), gettext("lot %(lot)s in the common yard") % {"lot": moved} if moved else ""),
        (gettext("Note"), row.note),
        *_told(row),
    ]
    said = return_words(row)
    if waits:
        answer = waits_answer(row, asked_is(row, member))
    else:
        answer = gettext("It is taken back and counts no more.") if row.back_at else gettext("It counts.")
    return {
        "row": row,
        "title": f"{said[0].upper()}{said[1:]}",
        "answer": answer,
        "facts": [(name, value) for name, value in facts if value],
        "main": main,
    }


@dataclass(frozen=True)
class OwnPipe:
    """Of one member. ``waiting``: (words, address) of what it is asked; ``money``: (words) with each other member."""

    answer: str
    bars: SafeString | str
    waiting: Sequence[tuple[str, str]]
    money: Sequence[str]


def own_pipe(*, member: Member) -> OwnPipe:
    out = list(selectors.out_of(selectors.pipe_of_member(member=member)))
    waiting = asked_of(member=member)
    return OwnPipe(
        answer=own_answer(*owed_both_ways(out, member), len(waiting)),
        bars=_own_bars(out, member),
        waiting=waiting,
        money=_own_money(member) if amounts_shown() else [],
    )


def owed_both_ways(out: Iterable[PipeLoan], member: Member) -> tuple[int, int]:
    """Pieces that it owes, and that are owed to it."""
    owes = owed = 0
    for loan in out:
        if loan.borrower_id == member.pk:
            owes += loan.out
        else:
            owed += loan.out
    return owes, owed


def asked_of(*, member: Member) -> list[tuple[str, str]]:
    lender = member.organisation.slug
    loans, returns = selectors.waiting_for(member=member)
    told = [(_said_of(loan), reverse("coop:seen-pipe", args=[lender, loan.pk])) for loan in loans]
    return told + [(_said_of(row), reverse("coop:seen-pipe-return", args=[lender, row.pk])) for row in returns]


def _own_bars(out: Iterable[PipeLoan], member: Member) -> SafeString | str:
    sums: dict[str, dict[str, int]] = {}
    for loan in out:
        owes = loan.borrower_id == member.pk
        if owes:
            name = gettext("you owe %(who)s") % {"who": loan.lender}
        else:
            name = gettext("%(who)s owes you") % {"who": loan.borrower}
        group = sums.setdefault(item_of(loan), {})
        group[name] = group.get(name, 0) + loan.out
    groups = {what: [Bar(name, count) for name, count in bars.items()] for what, bars in sums.items()}
    return bars_drawn(_most(groups), gettext("Pieces that you owe and that are owed to you"))


def _own_money(member: Member) -> list[str]:
    organisation = member.organisation
    rows = selectors.money_of(organisation=organisation, member=member)
    return [
        gettext("You to %(who)s: %(amount)s")
        % {"who": row.lender, "amount": format_money(row.amount, organisation.currency)}
        if row.borrower.pk == member.pk
        else gettext("%(who)s to you: %(amount)s")
        % {"who": row.borrower, "amount": format_money(row.amount, organisation.currency)}
        for row in rows
    ]


# Lots of a member in the common yard


def lot_rows(lots: Iterable[Lot], member: Member) -> list[dict[str, Any]]:
    shown = list(lots)
    given: dict[int, list[str]] = {}
    for leave in standing_leaves([lot.pk for lot in shown]):
        given.setdefault(leave.lot_id, []).append(in_words(leave))
    return [
        {
            "what": item_words(lot.material, lot.length, member.organisation),
            "lot": lot.reference,
            "place": lot.place.name,
            "quantity": lot.on_hand,
            "leave": ", ".join(given.get(lot.pk, [])) or gettext("none"),
            "url": reverse("coop:seen-lot", args=[member.organisation.slug, lot.pk]),
        }
        for lot in shown
    ]


@dataclass(frozen=True)
class OwnLots:
    answer: str
    bars: SafeString | str
    rows: Sequence[Mapping[str, Any]]


def own_lots_page(*, member: Member) -> OwnLots:
    rows = lot_rows(selectors.own_lots_there(member=member), member)
    bars = [Bar(row["lot"], row["quantity"]) for row in rows]
    groups: dict[str, list[Bar]] = {}
    for row, bar in zip(rows, bars, strict=True):
        groups.setdefault(row["what"], []).append(bar)
    given = sum(row["leave"] != gettext("none") for row in rows)
    answer = gettext("Nothing of %(member)s lies in the common yard.")
    if rows:
        answer = ngettext(
            "%(count)s lot of %(member)s lies in the common yard; leave is given for %(given)s.",
            "%(count)s lots of %(member)s lie in the common yard; leave is given for %(given)s.",
            len(rows),
        )
    answer %= {"count": format_count(len(rows)), "member": member, "given": format_count(given)}
    return OwnLots(answer, bars_drawn(_most(groups), gettext("What lies in the common yard")), rows)


def lot_page(lot: Lot) -> dict[str, Any]:
    """``leaves``: each with words and whether it can be ended."""
    return {
        "lot": lot,
        "what": item_words(lot.material, lot.length, lot.organisation),
        "there": said_count(lot.on_hand, "piece"),
        "held": lot.reserved,
        "leaves": [
            {"leave": leave, "words": leave_words(leave), "stands": not leave.ended_at and leave.left > 0}
            for leave in leaves_of(lot=lot)
        ],
    }


def leave_page(leave: Leave) -> dict[str, Any]:
    return {"lot": leave.lot, "words": leave_words(leave), "left": said_count(leave.left, "piece")}


def leave_words(leave: Leave) -> str:
    """5 pieces for Bo, until 4 May 2027, 3 left. ``leave`` has ``left``."""
    whom = leave.house or leave.member or gettext("everybody")
    until = gettext(", until %(day)s") % {"day": said_day(leave.until)} if leave.until else ""
    if leave.ended_at:
        left = gettext("ended: %(reason)s") % {"reason": leave.ended_because}
    elif leave.left > 0:
        left = gettext("%(count)s left") % {"count": format_count(leave.left)}
    else:
        left = gettext("used up")
    said = gettext("%(pieces)s for %(whom)s") % {"pieces": said_count(leave.quantity, "piece"), "whom": whom}
    return f"{said}{until}; {left}"


# Questions


def agreeing(row: PipeLoan | PipeReturn, back: str) -> dict[str, Any]:
    """Before the manager says it for whoever is asked."""
    return {
        "title": gettext("%(asked_of)s agrees") % {"asked_of": row.asked_of},
        "answer": gettext("Has %(asked_of)s told you that it is so?") % {"asked_of": row.asked_of},
        "button": gettext("Yes, it is so"),
        "back": back,
        "words": _said_of(row),
    }


def taking_back(row: PipeLoan | PipeReturn, back: str) -> dict[str, Any]:
    return {
        "title": gettext("Take it back"),
        "answer": gettext("Then it counts no more; what was told stays to be read."),
        "button": gettext("Take it back"),
        "back": back,
        "words": _said_of(row),
    }


def _said_of(row: PipeLoan | PipeReturn) -> str:
    if isinstance(row, PipeReturn):
        return f"{_one_to_other(row.loan.borrower, row.loan.lender)}: {return_words(row)}"
    return f"{kind_words(row)}: {_pieces_to(row)}"


def _pieces_to(loan: PipeLoan) -> str:
    """10 pieces of rail, Ash to Birch."""
    given = {"pieces": said_count(loan.quantity, "piece"), "what": item_of(loan)}
    said = gettext("%(pieces)s of %(what)s") % given
    return f"{said}, {_one_to_other(loan.lender, loan.borrower)}"
