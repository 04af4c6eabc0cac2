"""Piles in words: every number that is drawn."""

from __future__ import annotations

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count, said_day_of_this_year, said_noun
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.clock import today
from farmbuild.stock.piles.selectors import Coming, Pile, Rest
from farmbuild.stock.words import noun_of

#: What is counted here, one and many.
NOUNS = (gettext_noop("shorter length"), gettext_noop("shorter lengths"))


def state_words(pile: Pile) -> str:
    """22 held, 15 free; all held; all free; none here."""
    if not pile.there:
        return gettext("none here")
    if not pile.held:
        return gettext("all free") if pile.there > 1 else gettext("free")
    if not pile.free:
        return gettext("all held") if pile.there > 1 else gettext("held")
    return gettext("%(held)s held, %(free)s free") % {"held": format_count(pile.held), "free": format_count(pile.free)}


def coming_words(coming: Coming | None) -> str:
    """12 on order, due 9 March, or was due then; the first due, where others come later."""
    if coming is None:
        return ""
    # The year goes without saying while it lasts.
    when = said_day_of_this_year(coming.due) if coming.due.year == today().year else day(coming.due)
    values = {"pieces": format_count(coming.pieces), "when": when}
    if coming.due >= today():
        if coming.more:
            return gettext("%(pieces)s on order, the first due %(when)s") % values
        return gettext("%(pieces)s on order, due %(when)s") % values
    if coming.more:
        return gettext("%(pieces)s on order, the first was due %(when)s") % values
    return gettext("%(pieces)s on order, was due %(when)s") % values


def pile_words(pile: Pile) -> str:
    """38 sticks: 22 held, 16 free; 12 on order, due 9 March 2027."""
    noun = noun_of(pile.material, offcut=pile.offcut)
    parts = [f"{said_count(pile.there, noun)}: {state_words(pile)}" if pile.there else gettext("None here")]
    return "; ".join(filter(None, [*parts, coming_words(pile.coming)]))


def rest_words(rest: Rest, pile_noun: str) -> str:
    """14 shorter lengths: 61 offcuts."""
    lengths = said_count(rest.lengths, "shorter length")
    return f"{lengths}: {format_count(rest.pieces)} {said_noun(rest.pieces, pile_noun)}"
