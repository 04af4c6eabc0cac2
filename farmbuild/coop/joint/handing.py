"""Pieces of a joint order are handed out to members, each with a signature, and taken back; what is left of each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, ngettext

from farmbuild.buying.models import ReceiptLine
from farmbuild.coop.joint.bridge import Item
from farmbuild.coop.joint.offers import item_of
from farmbuild.coop.joint.rules import check_own, lock_joint
from farmbuild.coop.joint.selectors import handouts_of, needs_of
from farmbuild.coop.joint.splitting import item_of_handout, split_of
from farmbuild.coop.models import Handout, JointNeed, JointOrder, TakenOver
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.ledger import hand_out_pieces, take_hand_out_back
from farmbuild.stock.models import Lot, Movement

#: Moved so many times since they came.
_DEEPEST = 20


@dataclass(frozen=True)
class HandingRow:
    """Pieces of one need: ``due`` in all by what came, ``handed`` out so far, ``there`` in stock for everybody."""

    need: JointNeed
    due: int
    handed: int
    there: int

    @property
    def left(self) -> int:
        return max(0, self.due - self.handed)

    @property
    def over(self) -> int:
        """Handed out and, by what is known since, more than it gets."""
        return max(0, self.handed - self.due)


def handing_of(joint: JointOrder) -> list[HandingRow]:
    """In the order of the members, then of the things."""
    shares = {row.member.pk: row.share for row in split_of(joint).rows if row.member}
    handed: dict[tuple[int, Item], int] = defaultdict(int)
    for row in handouts_of(joint):
        handed[row.member_id, item_of_handout(row)] += row.quantity
    there: dict[Item, int] = defaultdict(int)
    for lot in _lots_of(joint):
        there[lot.material.code, lot.length] += lot.free
    return [
        HandingRow(
            need,
            shares[need.member_id].got.get(item_of(need), 0),
            handed[need.member_id, item_of(need)],
            there[item_of(need)],
        )
        for need in needs_of(joint)
    ]


def _lots_of(joint: JointOrder) -> list[Lot]:
    """What came of its orders and lies in stock, moved or not, the first received first."""
    came = ReceiptLine.objects.filter(
        receipt__order__joint_purchase__joint=joint,
        receipt__reverses=None,
        receipt__reversed_by=None,
        lot__isnull=False,
    )
    found = new = set(came.values_list("lot", flat=True))
    for _ in range(_DEEPEST):
        moved = Movement.objects.filter(moved_from__lot__in=new, reverses=None, reversed_by=None)
        new = set(moved.values_list("lot", flat=True)) - found
        if not new:
            break
        found = found | new
    rows = Lot.objects.of(joint.organisation).filter(pk__in=found, on_hand__gt=0, owner=None)
    rows = rows.select_related("material")
    return list(rows.order_by("received_on", "pk"))


@needs(Act.STOCK)
@transaction.atomic
def hand_out(
    *,
    organisation: Organisation,
    user: User | None,
    joint: JointOrder,
    member: Member,
    pieces: Mapping[int, int],
    day: date,
    press: str,
    signed: str = "",
) -> list[Handout]:
    """``pieces``: key of the member's need to how many now. ``press``: of the form; the same again hands out nothing.

    One row a lot. Raises ValidationError where it is more than is left for the member, or than is there.
    """
    check_own(organisation, joint=joint, member=member)
    current = lock_joint(joint)
    if before := list(Handout.objects.filter(joint=current, press=press)):
        return before
    if not current.closed_at:
        raise ValidationError(
            gettext("Joint order %(current)s is not closed yet, so nothing of it has come.")
            % {"current": current.number}
        )
    if day > today_of(organisation=organisation):
        raise ValidationError({"day": gettext("That day is still to come. Type today or an earlier day.")})
    rows = {row.need.pk: row for row in handing_of(current) if row.need.member_id == member.pk}
    if set(pieces) - rows.keys():
        raise ValidationError(gettext("A line is not this member's. Open the page again."))
    wanted = {key: count for key, count in pieces.items() if count}
    if not wanted:
        raise ValidationError(gettext("Type how many pieces are handed out of at least one line."))
    lots = _lots_of(current)
    made = []
    for key, count in wanted.items():
        row = rows[key]
        _check(row, count)
        for lot in lots:
            part = min(count, lot.free) if (lot.material.code, lot.length) == item_of(row.need) else 0
            if part <= 0:
                continue
            movement = hand_out_pieces(
                organisation=organisation,
                user=user,
                lot=lot,
                quantity=part,
                reason=f"{current}, to {member}"[:200],
            )
            made.append(
                Handout(
                    organisation=organisation,
                    joint=current,
                    member=member,
                    movement=movement,
                    material=row.need.material,
                    length=row.need.length,
                    quantity=part,
                    day=day,
                    signed=" ".join(signed.split())[:120],
                    press=press,
                    by=user,
                )
            )
            count -= part
    return Handout.objects.bulk_create(made)


def _check(row: HandingRow, count: int) -> None:
    what = f"{row.need.material}"
    if count < 0:
        raise ValidationError(gettext("Type a whole number of pieces, 0 or more."))
    if count > row.left:
        raise ValidationError(
            gettext("%(what)s: %(member)s gets %(due)s and has %(handed)s of them, so %(count)s cannot be handed out.")
            % {
                "what": what,
                "member": row.need.member,
                "due": format_count(row.due),
                "handed": format_count(row.handed),
                "count": format_count(count),
            }
        )
    if count > row.there:
        raise ValidationError(
            ngettext(
                "%(what)s: %(there)s piece of this joint order is in stock and free, so %(count)s cannot be handed"
                " out.",
                "%(what)s: %(there)s pieces of this joint order are in stock and free, so %(count)s cannot be handed"
                " out.",
                row.there,
            )
            % {"what": what, "there": format_count(row.there), "count": format_count(count)}
        )


@needs(Act.STOCK)
@transaction.atomic
def take_handout_back(*, organisation: Organisation, user: User | None, handout: Handout, reason: str) -> Handout:
    """The pieces are in their lot again. Raises ValidationError where they are already, or the member's farm has them
    in its stock."""
    check_own(organisation, handout=handout)
    lock_joint(handout.joint)
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: it took the wrong pile.")})
    current = Handout.objects.of(organisation).select_related("movement", "member").get(pk=handout.pk)
    if current.reverses_id or Handout.objects.filter(reverses=current).exists():
        raise ValidationError(gettext("These pieces were taken back already."))
    if TakenOver.objects.filter(handout=current).exists():
        raise ValidationError(
            gettext("%(member)s has taken these pieces into its own stock, so they stay handed out.")
            % {"member": current.member}
        )
    back = take_hand_out_back(organisation=organisation, user=user, movement=current.movement, reason=reason)
    return Handout.objects.create(
        organisation=organisation,
        joint_id=current.joint_id,
        member_id=current.member_id,
        movement=back,
        material_id=current.material_id,
        length=current.length,
        quantity=-current.quantity,
        day=current.day,
        signed=current.signed,
        press=f"back {current.pk}",
        by=user,
        reverses=current,
        reason=reason[:200],
    )
