"""What pages of common stock show, gathered once."""

from __future__ import annotations

from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import moment
from farmbuild.coop.common.words import State
from farmbuild.coop.models import CommonWish
from farmbuild.measure import amounts_shown, format_money, line_total


def wish_facts(wish: CommonWish, *, own: bool = False) -> list[tuple[str, str]]:
    """(Name, value) of one request; ``own``: as the member reads it, who does not learn who answered."""
    facts = []
    if amounts_shown():
        currency = wish.organisation.currency
        facts.append((gettext("Price of one"), format_money(wish.price, currency)))
        facts.append((gettext("In all"), format_money(line_total(wish.quantity, wish.price, currency), currency)))
    facts.append((gettext("Asked on"), moment(wish.made_at)))
    if wish.note:
        facts.append((gettext("Note"), wish.note))
    if wish.state != State.OPEN and wish.answered_at:
        by = gettext(" by %(who)s") % {"who": wish.answered_by.display_name} if wish.answered_by and not own else ""
        facts.append((gettext("Answered on"), f"{moment(wish.answered_at)}{by}"))
    if wish.answer:
        facts.append((gettext("Why"), wish.answer))
    return facts
