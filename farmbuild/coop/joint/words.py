"""Sentences of joint orders, at most 18 words each."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.coop.joint import bridge
from farmbuild.coop.models import JointOrder
from farmbuild.measure import amounts_shown, format_count, format_money
from farmbuild.orgs.models import Organisation

#: By the code of JointState, in a table.
STATES = {
    "open": _("open"),
    "past": _("to be closed"),
    "closed": _("to be sent"),
    "sent": _("on order"),
    "arriving": _("part came"),
    "arrived": _("came"),
    "ended": _("called off"),
}


def item_words(material: Material, length: Decimal | None, organisation: Organisation) -> str:
    return bridge.item_words(material.name, length, organisation)


def members_words(count: int) -> str:
    return said_count(count, "member")


@dataclass(frozen=True)
class Facts:
    """Of one joint order: ``pieces`` wanted, ``came`` whole, ``handed`` out, ``drafts`` orders that have not gone out,
    ``waiting`` members who have not got all of theirs, ``total`` what all of it costs so far, None where not known."""

    members: int
    pieces: int
    came: int = 0
    handed: int = 0
    orders: int = 0
    drafts: int = 0
    waiting: int = 0
    total: Decimal | None = None
    unposted: bool = False


def _money(facts: Facts, currency: str) -> str:
    if facts.total is None or not amounts_shown():
        return ""
    return f", {format_money(facts.total, currency)}"


def answer_of(joint: JointOrder, code: str, facts: Facts, currency: str) -> str:
    """``code``: of JointState."""
    who, pieces = members_words(facts.members), said_count(facts.pieces, "piece")
    if code == "ended":
        return gettext("Called off: %(end_reason)s.") % {"end_reason": joint.end_reason}
    if not facts.pieces:
        return gettext("Nobody has put anything in yet; it closes on %(closes_on)s.") % {
            "closes_on": day(joint.closes_on)
        }
    if code == "open":
        words = ngettext(
            "%(who)s needs %(pieces)s; it closes on %(day)s.",
            "%(who)s need %(pieces)s; it closes on %(day)s.",
            facts.members,
        )
        return words % {"who": who, "pieces": pieces, "day": day(joint.closes_on)}
    if code == "past":
        words = ngettext(
            "Its closing day is over: %(who)s needs %(pieces)s.",
            "Its closing day is over: %(who)s need %(pieces)s.",
            facts.members,
        )
        return words % {"who": who, "pieces": pieces}
    if code == "closed":
        return gettext("%(orders)s for %(who)s%(money)s: %(drafts)s to send.") % {
            "orders": said_count(facts.orders, "order"),
            "who": who,
            "money": _money(facts, currency),
            "drafts": format_count(facts.drafts),
        }
    if code in ("sent", "arriving"):
        return gettext("%(came)s of %(pieces)s came whole for %(who)s.") % {
            "came": format_count(facts.came),
            "pieces": pieces,
            "who": who,
        }
    if facts.waiting:
        return gettext("%(came)s of %(pieces)s came whole; %(waiting)s still to get theirs.") % {
            "came": format_count(facts.came),
            "pieces": pieces,
            "waiting": members_words(facts.waiting),
        }
    return gettext("All %(who)s have theirs: %(pieces)s%(money)s.") % {
        "who": who,
        "pieces": said_count(facts.handed, "piece"),
        "money": _money(facts, currency),
    }


def own_answer(joint: JointOrder, code: str, pieces: int, got: int, handed: int) -> str:
    """To the member whose pieces they are."""
    given = {
        "wanted": said_count(pieces, "piece"),
        "day": day(joint.closes_on),
        "need_by": day(joint.need_by),
        "reason": joint.end_reason,
        "handed": format_count(handed),
        "got": format_count(got),
    }
    if code == "ended":
        words = gettext("Called off: %(reason)s.")
    elif not pieces and code == "open":
        words = gettext("You have put nothing in; it takes more until %(day)s.")
    elif not pieces:
        words = gettext("You have put nothing in; its closing day is over.")
    elif code == "open":
        words = gettext("You need %(wanted)s of it; change it until %(day)s.")
    elif code == "past":
        words = gettext("You need %(wanted)s of it; its closing day is over.")
    elif code in ("closed", "sent"):
        words = gettext("Your %(wanted)s are ordered, wanted by %(need_by)s.")
    elif handed:
        words = gettext("You have %(handed)s of your %(wanted)s.")
    else:
        words = gettext("%(got)s of your %(wanted)s came and wait for you.")
    return words % given
