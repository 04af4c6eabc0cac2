"""What the split of a joint order shows: on the page, on paper, and of one member."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy, ngettext

from farmbuild.common.speaking import kept_words, said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.coop.joint import selectors
from farmbuild.coop.joint.drawings import bars_drawn
from farmbuild.coop.joint.handing import HandingRow, handing_of
from farmbuild.coop.joint.presenters.joint import bars_of, name_of, share_bars
from farmbuild.coop.joint.split_files import SheetRow, SplitSheet, pieces_words
from farmbuild.coop.joint.splitting import SplitPage, SplitRow, split_of
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import Handout, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import UnitSystem, format_count, format_money
from farmbuild.orgs.clock import today_of

HOW = gettext_lazy(
    "Delivery is split by the value of goods. Cents left over go to the largest remainders, ties to the first listed."
)


@dataclass(frozen=True)
class Split:
    answer: str
    bars: SafeString | str
    rows: Sequence[dict[str, Any]]
    remarks: Sequence[str]
    total: Decimal
    to_post: bool
    seen: str


def split_page(*, joint: JointOrder) -> Split:
    split = split_of(joint)
    to_post = [row for row in split.rows if row.member and row.to_post]
    return Split(
        answer=_answer(joint, split, len(to_post)),
        bars=share_bars(
            joint,
            gettext("What each member owes and would pay alone"),
            [(row.member, row.owes, row.alone) for row in split.rows],
        ),
        rows=[
            {
                "member": name_of(joint, row.member),
                "pieces": _pieces(split, row),
                "goods": row.goods,
                "tax": _tax(row),
                "delivery": row.delivery,
                "owes": row.owes,
                "alone": row.alone if row.member else None,
                "posted": row.posted,
                "url": reverse("coop:joint-share", args=[joint.number, row.member.slug]) if row.member else None,
            }
            for row in split.rows
        ],
        remarks=split.remarks,
        total=split.total,
        to_post=bool(to_post),
        seen=split.seen,
    )


def _tax(row: SplitRow) -> Decimal:
    return sum(row.tax, Decimal(0))


def _pieces(split: SplitPage, row: SplitRow) -> list[str]:
    return [
        pieces_words(item.words, ordered, got)
        for item, ordered, got in zip(split.items, row.ordered, row.got, strict=True)
        if ordered or got
    ]


def _answer(joint: JointOrder, split: SplitPage, to_post: int) -> str:
    total = format_money(split.total, joint.organisation.currency)
    people = said_count(sum(1 for row in split.rows if row.member), "member")
    if to_post:
        return gettext("%(total)s among %(people)s, to the cent; %(to_post)s not charged yet.") % {
            "total": total,
            "people": people,
            "to_post": format_count(to_post),
        }
    return gettext("%(total)s among %(people)s, to the cent; all of it is charged.") % {
        "total": total,
        "people": people,
    }


def sheet_of(*, joint: JointOrder) -> SplitSheet:
    split = split_of(joint)
    organisation = joint.organisation
    signed: dict[int, str] = {}
    for handout in selectors.handouts_of(joint):
        signed[handout.member_id] = f"{handout.signed}, {day(handout.day)}" if handout.signed else ""
    return SplitSheet(
        title=str(joint),
        author=organisation.name,
        day=today_of(organisation=organisation),
        currency=organisation.currency,
        tax_name=organisation.tax_name or "Tax",
        units=UnitSystem(organisation.unit_system),
        items=[item.words for item in split.items],
        rows=[
            SheetRow(
                member=name_of(joint, row.member),
                pieces=[*zip(row.ordered, row.got, strict=True)],
                goods=row.goods,
                delivery=row.delivery,
                tax=_tax(row),
                owes=row.owes,
                alone=row.alone if row.member else None,
                signed=signed.get(row.member.pk, "") if row.member else "",
            )
            for row in split.rows
        ],
        note=kept_words(HOW),
    )


@dataclass(frozen=True)
class Share:
    """Of one member. ``goods``: a row a material; ``waiting``: pieces that can be handed out now."""

    answer: str
    bars: SafeString | str
    caption: str
    goods: Sequence[dict[str, Any]]
    rows: Sequence[HandingRow]
    sums: Sequence[tuple[str, Decimal]]
    handouts: Sequence[dict[str, Any]]

    @property
    def waiting(self) -> list[HandingRow]:
        return [row for row in self.rows if row.left and row.there]


def share_of(*, joint: JointOrder, member: Member) -> Share:
    rows = [row for row in handing_of(joint) if row.need.member_id == member.pk]
    own = next((row for row in split_of(joint).rows if row.member and row.member.pk == member.pk), None)
    organisation = joint.organisation
    wanted = [
        ((row.need.material, row.need.length), gettext("handed out"), row.need.quantity, row.handed) for row in rows
    ]
    due, handed = sum(row.due for row in rows), sum(row.handed for row in rows)
    left = sum(row.left for row in rows)
    return Share(
        answer=(
            ngettext(
                "%(count)s piece of %(member)s waits to be handed out.",
                "%(count)s pieces of %(member)s wait to be handed out.",
                left,
            )
            % {"count": format_count(left), "member": member}
            if left
            else gettext("%(member)s has all of its %(handed)s.")
            % {"member": member, "handed": said_count(handed, "piece")}
            if handed
            else gettext("Nothing for %(member)s has come yet.") % {"member": member}
        ),
        bars=bars_drawn(bars_of(organisation, wanted), gettext("Pieces of %(member)s") % {"member": member})
        if due
        else "",
        caption=gettext("Filled: handed out. Dashed: ordered, not handed out."),
        goods=[
            {
                "what": item_words(row.need.material, row.need.length, organisation),
                "ordered": row.need.quantity,
                "due": row.due,
                "handed": row.handed,
                "left": row.left,
            }
            for row in rows
        ],
        rows=rows,
        sums=sums_of(own, organisation.tax_name),
        handouts=[
            {
                "words": handout_words(row),
                "back": reverse("coop:joint-handout-back", args=[joint.number, row.pk]),
            }
            for row in selectors.handouts_of(joint, member=member)
        ],
    )


def handout_words(row: Handout) -> str:
    signed = gettext(", signed for by %(signed)s") % {"signed": row.signed} if row.signed else ""
    what = item_words(row.material, row.length, row.organisation)
    return f"{day(row.day)}: {format_count(row.quantity)} × {what}{signed}"


def sums_of(row: SplitRow | None, tax_name: str, *, own: bool = False) -> list[tuple[str, Decimal]]:
    """``own``: told to the member itself."""
    if row is None:
        return []
    owes = gettext("You owe") if own else gettext("Owes")
    sums = [
        (gettext("Goods"), row.goods),
        (gettext("Delivery"), row.delivery),
        (tax_name or gettext("Tax"), _tax(row)),
        (owes, row.owes),
    ]
    if row.alone is not None:
        sums += [(gettext("Alone it would have been"), row.alone), (gettext("Saved"), row.alone - row.owes)]
    return sums
