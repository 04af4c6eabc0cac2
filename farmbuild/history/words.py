"""What the rooms call columns, records and deeds, for who reads of them in another language; kept is the English.

Those stand here that no page has besides.
"""

from __future__ import annotations

from functools import cache, reduce

from django.db.models import BooleanField, ForeignKey
from django.utils.translation import gettext, pgettext_lazy

from farmbuild.common.speaking import as_kept, said_list
from farmbuild.history.kept import KEPT, record_of
from farmbuild.history.values import NO, ONE_GONE, YES
from farmbuild.history.writing import MORE
from farmbuild.measure.speech import gettext_noop

TITLES = (
    gettext_noop("acceptance"), gettext_noop("another price"), gettext_noop("bender"), gettext_noop("booking of"),
    gettext_noop("calendar feed"), gettext_noop("change order"), gettext_noop("common stock open to members"),
    gettext_noop("crew"), gettext_noop("customer"), gettext_noop("days off of"), gettext_noop("equipment"),
    gettext_noop("farm of a member"), gettext_noop("free days"), gettext_noop("hoop batch"),
    gettext_noop("hoops for a house"), gettext_noop("job"), gettext_noop("joint order"), gettext_noop("journey"),
    gettext_noop("journeys"), gettext_noop("leave"), gettext_noop("line"), gettext_noop("link"),
    gettext_noop("member"), gettext_noop("movement"), gettext_noop("offer"), gettext_noop("option"),
    gettext_noop("order of steps"), gettext_noop("pay rate of"), gettext_noop("person"), gettext_noop("pieces for"),
    gettext_noop("pieces found"), gettext_noop("place"), gettext_noop("plan"), gettext_noop("price a day of"),
    gettext_noop("price break"), gettext_noop("price for members of"), gettext_noop("price list"),
    gettext_noop("price of a trip to"), gettext_noop("purchase order"), gettext_noop("quote"),
    gettext_noop("rate of"), gettext_noop("rates of quotes"), gettext_noop("recipe"), gettext_noop("request of"),
    gettext_noop("row of its own"), gettext_noop("rules of sharing"), gettext_noop("schedule"),
    gettext_noop("scrapped sticks"), gettext_noop("search for savings"), gettext_noop("search of the yard"),
    gettext_noop("sign-in"), gettext_noop("sign-in of"), gettext_noop("site"), gettext_noop("skill"),
    gettext_noop("stage"), gettext_noop("step"), gettext_noop("stock count"), gettext_noop("supplier"),
    gettext_noop("terms of bills"), gettext_noop("token of"), gettext_noop("trial hoop"), gettext_noop("usual steps"),
    gettext_noop("webhook"), gettext_noop("wind limit for"),
)  # fmt: skip
LABELS = (
    gettext_noop("accept reason"), gettext_noop("accepted at"), gettext_noop("access"), gettext_noop("address"),
    gettext_noop("all wishes of a member together"), gettext_noop("alone"), gettext_noop("archived at"),
    gettext_noop("asked at"), gettext_noop("asked by"), gettext_noop("back condition"), gettext_noop("begins"),
    gettext_noop("buying"), gettext_noop("change of the value on hand"), gettext_noop("closed at"),
    gettext_noop("confirmed price"), gettext_noop("confirmed quantity"), gettext_noop("contact"),
    gettext_noop("cost"), gettext_noop("cost of one piece"), gettext_noop("count again from a difference of"),
    gettext_noop("country"), gettext_noop("currency"), gettext_noop("days less for a week sooner"),
    gettext_noop("days to come, at most"), gettext_noop("decimal sign"), gettext_noop("delivery"),
    gettext_noop("delivery charge"), gettext_noop("delivery is free from"), gettext_noop("delivery site"),
    gettext_noop("description"), gettext_noop("e-mail"), gettext_noop("earliest"), gettext_noop("ended"),
    gettext_noop("ended at"), gettext_noop("ended, because"), gettext_noop("ends at"), gettext_noop("ends early"),
    gettext_noop("expires at"), gettext_noop("farm"), gettext_noop("filename"), gettext_noop("first"),
    gettext_noop("for"), gettext_noop("for one house alone"), gettext_noop("for one member alone"),
    gettext_noop("foreseen"), gettext_noop("from this day on"), gettext_noop("goods"), gettext_noop("held in lot"),
    gettext_noop("held on"), gettext_noop("how far"), gettext_noop("how the owner told it"), gettext_noop("invented"),
    gettext_noop("kind"), gettext_noop("lag minutes"), gettext_noop("language"), gettext_noop("last"),
    gettext_noop("last season counts, percent"), gettext_noop("late days"),
    gettext_noop("leave out the stock record"), gettext_noop("length"), gettext_noop("may as well"),
    gettext_noop("may not"), gettext_noop("may send orders up to"), gettext_noop("measure"),
    gettext_noop("minimum order"), gettext_noop("need by"), gettext_noop("needed"), gettext_noop("number"),
    gettext_noop("offcut: no swaged end left"), gettext_noop("option name"), gettext_noop("other"),
    gettext_noop("out condition"), gettext_noop("owner"), gettext_noop("pack"), gettext_noop("paper"),
    gettext_noop("pay an hour"), gettext_noop("percent"), gettext_noop("phone"), gettext_noop("pieces held"),
    gettext_noop("pieces on hand"), gettext_noop("pieces that may be taken"), gettext_noop("position"),
    gettext_noop("price a day"), gettext_noop("price of a trip"), gettext_noop("price of one"),
    gettext_noop("prices include tax"), gettext_noop("program"), gettext_noop("promised on"),
    gettext_noop("published at"), gettext_noop("purpose"), gettext_noop("quantity"), gettext_noop("reason"),
    gettext_noop("recovers tax"), gettext_noop("reference"), gettext_noop("released at"), gettext_noop("remark"),
    gettext_noop("revoked at"), gettext_noop("role"), gettext_noop("season starts in"),
    gettext_noop("season starts on day"), gettext_noop("secret changed; the one before counts until"),
    gettext_noop("shares"), gettext_noop("shut at"), gettext_noop("skills"), gettext_noop("soil"),
    gettext_noop("speed"), gettext_noop("starts"), gettext_noop("starts at"), gettext_noop("state"),
    gettext_noop("stated yield strength, MPa"), gettext_noop("stopped"), gettext_noop("supplier code"),
    gettext_noop("taken at"), gettext_noop("takes from common stock"), gettext_noop("tax included"),
    gettext_noop("tax name"), gettext_noop("tax percent"), gettext_noop("time zone"),
    gettext_noop("two people above"), gettext_noop("unit"), gettext_noop("unit price"), gettext_noop("units"),
    gettext_noop("visitor"), gettext_noop("waited for no more, because"), gettext_noop("what"),
    gettext_noop("whose limit"), gettext_noop("why"), gettext_noop("worked out as of"),
    gettext_noop("written down by mistake"),
)  # fmt: skip
#: A verb of the past, which other texts have as what became of something.
DEEDS = {
    "accepted": pgettext_lazy("what somebody did to a record", "accepted"),
    "accepted a trial hoop of": pgettext_lazy("what somebody did to a record", "accepted a trial hoop of"),
    "added": pgettext_lazy("what somebody did to a record", "added"),
    "archived": pgettext_lazy("what somebody did to a record", "archived"),
    "booked": pgettext_lazy("what somebody did to a record", "booked"),
    "brought back": pgettext_lazy("what somebody did to a record", "brought back"),
    "called off": pgettext_lazy("what somebody did to a record", "called off"),
    "cancelled": pgettext_lazy("what somebody did to a record", "cancelled"),
    "changed": pgettext_lazy("what somebody did to a record", "changed"),
    "closed": pgettext_lazy("what somebody did to a record", "closed"),
    "declined": pgettext_lazy("what somebody did to a record", "declined"),
    "ended": pgettext_lazy("what somebody did to a record", "ended"),
    "finished": pgettext_lazy("what somebody did to a record", "finished"),
    "gave a role to": pgettext_lazy("what somebody did to a record", "gave a role to"),
    "gave another price to": pgettext_lazy("what somebody did to a record", "gave another price to"),
    "let in": pgettext_lazy("what somebody did to a record", "let in"),
    "linked": pgettext_lazy("what somebody did to a record", "linked"),
    "lost": pgettext_lazy("what somebody did to a record", "lost"),
    "measured a trial hoop of": pgettext_lazy("what somebody did to a record", "measured a trial hoop of"),
    "opened": pgettext_lazy("what somebody did to a record", "opened"),
    "opened again": pgettext_lazy("what somebody did to a record", "opened again"),
    "posted": pgettext_lazy("what somebody did to a record", "posted"),
    "published": pgettext_lazy("what somebody did to a record", "published"),
    "recorded leave for": pgettext_lazy("what somebody did to a record", "recorded leave for"),
    "released": pgettext_lazy("what somebody did to a record", "released"),
    "removed": pgettext_lazy("what somebody did to a record", "removed"),
    "reopened": pgettext_lazy("what somebody did to a record", "reopened"),
    "scrapped sticks of": pgettext_lazy("what somebody did to a record", "scrapped sticks of"),
    "sent": pgettext_lazy("what somebody did to a record", "sent"),
    "sent the quote": pgettext_lazy("what somebody did to a record", "sent the quote"),
    "started again": pgettext_lazy("what somebody did to a record", "started again"),
    "stopped": pgettext_lazy("what somebody did to a record", "stopped"),
    "took again": pgettext_lazy("what somebody did to a record", "took again"),
    "took back": pgettext_lazy("what somebody did to a record", "took back"),
    "took back a trial hoop of": pgettext_lazy("what somebody did to a record", "took back a trial hoop of"),
    "took over": pgettext_lazy("what somebody did to a record", "took over"),
    "took up again": pgettext_lazy("what somebody did to a record", "took up again"),
    "typed": pgettext_lazy("what somebody did to a record", "typed"),
    "withdrew": pgettext_lazy("what somebody did to a record", "withdrew"),
}


def said_deed(deed: str) -> str:
    """Several deeds of one act are kept as one text."""
    return reduce(
        lambda all_of, one: said_list((all_of, one)), (str(DEEDS.get(one, one)) for one in deed.split(" and "))
    )


def said_name(word: str) -> str:
    """Of a column or a table; one that no table has any more stays as it is kept."""
    return gettext(word) if word in names() else word


def said_choice(kind: str, label: str, word: str) -> str:
    """``word``, where the column offers it; it may as well be one that somebody typed."""
    return gettext(word) if word in choices().get((kind, label), ()) else word


@cache
def names() -> frozenset[str]:
    with as_kept():
        columns = (kept.label(name) for kept in KEPT.values() for name in (*kept.names, *kept.many))
        return frozenset([MORE, *columns, *(kept.title for kept in KEPT.values())])


@cache
def choices() -> dict[tuple[str, str], set[str]]:
    """By kind of record and label of the column."""
    found: dict[tuple[str, str], set[str]] = {}
    with as_kept():
        for kept in KEPT.values():
            kind = record_of(kept.model).kind
            for name in (*kept.names, *kept.many):
                field = kept.field(name)
                words = found.setdefault((kind, kept.label(name)), set())
                words |= {str(word) for _, word in field.flatchoices or ()}
                if isinstance(field, BooleanField):
                    words |= {YES, NO}
                if isinstance(field, ForeignKey) or name in kept.many:
                    words.add(ONE_GONE)
    return found
