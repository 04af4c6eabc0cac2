"""Cutting sticks of a lot: pieces, the kept end and the movements of all of them in one go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.lengths import length_pair
from farmbuild.measure import ByUnits, count_noun, in_units
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House
from farmbuild.stock.bridge import share_out
from farmbuild.stock.costing import cost_of_one
from farmbuild.stock.cut_layout import Layout, LayoutError, lay_out, parts_of, to_mm
from farmbuild.stock.leave import carry
from farmbuild.stock.ledger import new_lot_like
from farmbuild.stock.models import Cut, CutPiece, Lot, Movement, Reservation
from farmbuild.stock.reserving.consuming import consume, record_used, reduce_reservation, used_part
from farmbuild.stock.reserving.services import NewReservation, ReservedPiece, lock_lots, pieces_of, reserve
from farmbuild.stock.services import check_count, check_owner, lock_references, post_movement, take_numbers

#: Pieces out of one stick; more is a slip of the finger.
MAX_PIECES = 200
NO_PIECE = ByUnits("Type the length of a piece, for example 2' 6\".", "Type the length of a piece, for example 760 mm.")


@dataclass(frozen=True)
class CutDone:
    """``pieces``: their lots; ``offcut``: the lot of the kept ends, or None."""

    cut: Cut
    pieces: tuple[Lot, ...]
    offcut: Lot | None


def layout_of(*, organisation: Organisation, lot: Lot, pieces: Sequence[Decimal], keep: bool) -> Layout:
    """How one stick of the lot is cut into ``pieces``, mm, from the left. Raises ValidationError by field."""
    if lot.length is None:
        raise ValidationError(
            gettext("%(material)s is counted, not measured, so it cannot be cut.") % {"material": lot.material}
        )
    if not pieces:
        raise ValidationError({"pieces": in_units(NO_PIECE, organisation.unit_system)})
    if len(pieces) > MAX_PIECES:
        raise ValidationError(
            {
                "pieces": gettext("One stick is cut into at most %(max_pieces)s pieces. Type fewer.")
                % {"max_pieces": MAX_PIECES}
            }
        )
    try:
        layout = lay_out(
            stick=lot.length, pieces=pieces, kerf=organisation.kerf, keep_from=organisation.keep_from, keep=keep
        )
    except LayoutError as error:
        over, stick = (
            length_pair(error.over, organisation.unit_system),
            length_pair(lot.length, organisation.unit_system),
        )
        raise ValidationError(
            {
                "pieces": gettext(
                    "These pieces with the saw cuts between them are %(over)s (%(over_2)s) longer than the "
                    "stick of %(stick)s (%(stick_2)s). Type shorter or fewer pieces."
                )
                % {"over": over[0], "over_2": over[1], "stick": stick[0], "stick_2": stick[1]}
            }
        ) from error
    if layout.pieces == (layout.stick,):
        raise ValidationError(
            {"pieces": gettext("A piece as long as the stick needs no cut. Issue the stick instead.")}
        )
    return layout


@needs(Act.STOCK)
@transaction.atomic
def cut_sticks(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    sticks: int,
    pieces: Sequence[Decimal],
    keep: bool = False,
    house: House | None = None,
    reason: str = "",
    paper: str = "",
) -> CutDone:
    """Cut ``sticks`` of the lot alike into ``pieces``, lengths in mm from the left of each.

    What is left of a stick is an offcut from the organisation's shortest length on, or with ``keep``; else scrap. What
    the sticks cost goes to the coin to the offcuts by length, and the rest, scrap and saw waste too, to the pieces.
    With ``house`` the pieces are issued to it straight away, and sticks that it holds for itself alone are cut first;
    sticks held otherwise are cut by ``cut_reserved``.
    Raises ValidationError by field; nothing is stored then.
    """
    check_owner(organisation, house=house)
    check_count(sticks, field="sticks")
    current = Lot.objects.of(organisation).select_related("material", "supplier", "place", "organisation")
    lot = current.get(pk=lot.pk)
    layout = layout_of(organisation=organisation, lot=lot, pieces=pieces, keep=keep)
    parts = parts_of(layout)
    references = take_numbers(organisation=organisation, count=len(parts))
    cut = Cut(
        organisation=organisation,
        lot=lot,
        sticks=sticks,
        stick_nm=layout.stick,
        kerf_nm=layout.kerf,
        kerfs=layout.kerfs,
        pieces_nm=sum(layout.pieces),
        offcut_nm=layout.offcut,
        scrap_nm=layout.scrap,
    )
    cut.clean_fields(exclude=["organisation", "lot"])
    cut.save()
    words = {"reason": reason, "paper": paper, "cut": cut}
    used = consume(lot=lot, house=house, quantity=sticks) if house else []
    try:
        taken = post_movement(lot, Movement.Kind.CUT, -sticks, user, taken_for=house, **words)
    except ValidationError as error:
        raise ValidationError({"sticks": error.messages}) from error
    record_used(used, taken)
    made, offcut = [], None
    amounts = share_out(-taken.amount, [part.weight for part in parts], organisation.currency)
    for part, reference, amount in zip(parts, references, amounts, strict=True):
        new = new_lot_like(
            lot=lot,
            place=lot.place,
            reference=reference,
            length=to_mm(part.length),
            unit_cost=cost_of_one(amount, sticks * part.each),
            offcut=True,
        )
        post_movement(new, Movement.Kind.CUT, sticks * part.each, user, **words, amount=amount)
        CutPiece.objects.create(cut=cut, lot=new, each=part.each, length_nm=part.length, offcut=part.offcut)
        if part.offcut:
            offcut = new
            continue
        made.append(new)
        if taken.leave:
            carry(taken.leave, new, sticks * part.each)
        if house is not None:
            post_movement(new, Movement.Kind.ISSUE, -sticks * part.each, user, **words, house=house)
    return CutDone(cut, tuple(made), offcut)


def lengths_of(reservation: Reservation) -> list[Decimal]:
    """What each held stick is to be cut into, mm, longest first; empty for a stick that is used as it is."""
    lengths = [piece.length for piece in reservation.pieces.all() for _ in range(piece.each)]
    return sorted(lengths, reverse=True)


@needs(Act.STOCK)
@transaction.atomic
def cut_reserved(
    *, organisation: Organisation, user: User, reservation: Reservation, sticks: int, reason: str = "", paper: str = ""
) -> CutDone:
    """Cut held sticks as they were planned; every house holds its pieces instead of the stick.

    Raises ValidationError where fewer are held by now, or they are used whole; nothing is stored then.
    """
    check_count(sticks, field="sticks")
    # The numbers are locked before the lot, here and wherever both are.
    lock_references(organisation=organisation)
    wanted = Reservation.objects.of(organisation).filter(pk=reservation.pk)
    # Only what is to come goes over to another place, so the lot stays the hold's.
    lots = lock_lots(filter(None, wanted.values_list("lot", flat=True)))
    row = wanted.filter(lot__in=lots).select_related("lot__material").prefetch_related("pieces__house").first()
    if row is None or row.quantity < sticks:
        there = row.quantity if row else 0
        raise ValidationError(
            {
                "sticks": gettext("%(there)s of this lot are held here. Type no more.")
                % {"there": count_noun(there, "stick")}
            }
        )
    lengths = lengths_of(row)
    if not lengths or lengths == [row.lot.length]:
        raise ValidationError(gettext("These sticks are used as they are. Issue them to their house instead."))
    shares, lot, need_by = pieces_of(row), row.lot, {row.house_id: row.need_by}
    days = need_by | {
        piece.house_id: piece.house.need_date for piece in row.pieces.all() if piece.house_id not in need_by
    }
    used = used_part(row, sticks)
    reduce_reservation(row, sticks)
    done = cut_sticks(
        organisation=organisation, user=user, lot=lot, sticks=sticks, pieces=lengths, reason=reason, paper=paper
    )
    record_used([used], done.cut.movements.get(lot=lot))
    shared = list(_shared_out(shares, done.pieces, sticks, days))
    reserve(organisation=organisation.pk, plan=row.plan_id, user=user.pk, wanted=shared)
    return done


def _shared_out(
    shares: Sequence[ReservedPiece], lots: Sequence[Lot], sticks: int, days: Mapping[int, date]
) -> Iterator[NewReservation]:
    """The pieces of each house out of the lots that were cut."""
    left = {lot.pk: lot.on_hand for lot in lots}
    for share in shares:
        needed = sticks * share.each
        for lot in lots:
            if lot.length == share.length and (taken := min(needed, left[lot.pk])):
                left[lot.pk] -= taken
                needed -= taken
                yield NewReservation(taken, share.house, share.purpose, days[share.house], lot=lot.pk)
