"""Piles in words: every number that is drawn."""

from __future__ import annotations

from farmbuild.common.templatetags.farm import day
from farmbuild.measure import count_noun, format_count, noun_for
from farmbuild.orgs.clock import today
from farmbuild.stock.piles.selectors import Coming, Pile, Rest
from farmbuild.stock.words import noun_of


def state_words(pile: Pile) -> str:
    """22 held, 15 free; all held; all free; none here."""
    if not pile.there:
        return "none here"
    if not pile.held:
        return "all free" if pile.there > 1 else "free"
    if not pile.free:
        return "all held" if pile.there > 1 else "held"
    return f"{format_count(pile.held)} held, {format_count(pile.free)} free"


def coming_words(coming: Coming | None) -> str:
    """12 on order, due 9 March, or was due then; the first due, where others come later."""
    if coming is None:
        return ""
    due = "due" if coming.due >= today() else "was due"
    due = f"the first {due}" if coming.more else due
    # The year goes without saying while it lasts.
    when = f"{coming.due.day} {coming.due:%B}" if coming.due.year == today().year else day(coming.due)
    return f"{format_count(coming.pieces)} on order, {due} {when}"


def pile_words(pile: Pile) -> str:
    """38 sticks: 22 held, 16 free; 12 on order, due 9 March 2027."""
    noun = noun_of(pile.material, offcut=pile.offcut)
    parts = [f"{count_noun(pile.there, noun)}: {state_words(pile)}" if pile.there else "None here"]
    return "; ".join(filter(None, [*parts, coming_words(pile.coming)]))


def rest_words(rest: Rest, pile_noun: str) -> str:
    """14 shorter lengths: 61 offcuts."""
    lengths = count_noun(rest.lengths, "shorter length")
    return f"{lengths}: {format_count(rest.pieces)} {noun_for(rest.pieces, pile_noun)}"
