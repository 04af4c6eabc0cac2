"""Writes of places and lots. A lot's count and value change here and nowhere else, and never without a movement.

``Lot.on_hand`` is kept equal to the sum of the lot's movements by one conditional UPDATE in the transaction that
stores the movement. The UPDATE takes the row's lock and looks at the count again under it, so of two people who
take the last stick at once one gets it and the other is told. What the movement costs, and whom, is worked out under
that lock (``stock.costing``); the database adds it to ``Lot.value`` by itself.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Max, Min, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.catalogue.models import MAX_QUANTITY, Material, Supplier, check_length, check_longest
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House, Site
from farmbuild.stock.costing import (
    BORNE,
    Books,
    Share,
    books_of,
    brought_back,
    cost_of_one,
    first_amount,
    shared_by,
    still_out,
    store_shares,
)
from farmbuild.stock.issued import OUT
from farmbuild.stock.leave import TAKES_OUT, Taking, leave_brought_back, leave_to_take
from farmbuild.stock.models import CostShare, Lot, LotNumbers, Movement, Place, Repricing, UsedHold
from farmbuild.stock.reserving.consuming import (
    consume,
    holders_in_words,
    promised_words,
    record_used,
    reservations_of_lots,
    reserved_words,
)
from farmbuild.stock.signals import pieces_back

#: What can be put right after receipt; material and length are what the pieces are, and stay; a place
#: is changed by moving them.
DESCRIPTION = ("reference", "supplier", "unit_cost", "received_on", "offcut")
#: Columns of a lot that the ledger keeps.
COSTED = ["on_hand", "value", "unit_cost", "basis_value", "basis_pieces"]


def check_owner(organisation: Organisation, **rows: Any) -> None:
    """Rows of another organisation never get in, whatever the form let through."""
    for name, row in rows.items():
        if row is not None and row.organisation_id != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


# Places


@needs(Act.STOCK)
@transaction.atomic
def place_named(*, organisation: Organisation, user: User | None, name: str, site: Site | None = None) -> Place:
    """The place of that name, small and capital letters alike, or a new one at ``site``."""
    check_owner(organisation, site=site)
    name = " ".join(name.split())
    found = Place.objects.of(organisation).select_related("site").filter(name__iexact=name).first()
    if found is None:
        place = Place(organisation=organisation, name=name, site=site)
        place.clean_fields()
        found, _ = Place.objects.get_or_create(organisation=organisation, name=name, defaults={"site": site})
    if site is not None and found.site_id != site.pk:
        where = f"is at {found.site}" if found.site else "is at no site"
        raise ValidationError(
            {
                "site": gettext("%(found)s %(where)s. Leave the site as it is, or type another name for the place.")
                % {"found": found, "where": where}
            }
        )
    return found


@transaction.atomic
def places_named(*, organisation: Organisation, names: Collection[str], site: Site | None) -> dict[str, Place]:
    """Places by name in small letters; those that are not there yet are made at ``site``. Three queries at most."""
    check_owner(organisation, site=site)
    wanted = {" ".join(name.split()).casefold(): " ".join(name.split()) for name in names}

    def there() -> dict[str, Place]:
        return {place.name.casefold(): place for place in Place.objects.of(organisation)}

    found = there()
    new = [Place(organisation=organisation, name=name, site=site) for key, name in wanted.items() if key not in found]
    for place in new:
        place.clean_fields(exclude=["organisation", "site"])
    if new:
        # Someone may make the same place at the same time; then it is that one.
        Place.objects.bulk_create(new, ignore_conflicts=True)
        found = there()
    return {key: found[key] for key in wanted}


@needs(Act.STOCK)
@transaction.atomic
def change_place(*, organisation: Organisation, user: User, place: Place, name: str, site: Site | None) -> Place:
    """Rename a place or put it at another site; its lots come along."""
    check_owner(organisation, site=site)
    current = Place.objects.of(organisation).select_for_update().get(pk=place.pk)
    current.name, current.site = " ".join(name.split()), site
    if Place.objects.of(organisation).filter(name__iexact=current.name).exclude(pk=current.pk).exists():
        raise ValidationError(
            {
                "name": gettext("There is a place named %(current_name)s already. Type another name.")
                % {"current_name": current.name}
            }
        )
    current.full_clean()
    current.save()
    return current


# Lots


_AT_ONCE = 500


def lock_references(*, organisation: Organisation) -> LotNumbers:
    """Until the transaction ends nobody else takes a reference in this organisation."""
    LotNumbers.objects.get_or_create(organisation=organisation)
    return LotNumbers.objects.select_for_update().get(organisation=organisation)


def take_numbers(*, organisation: Organisation, count: int) -> list[str]:
    """The next ``count`` free references, L-0001 and on, in the caller's transaction."""
    numbers = lock_references(organisation=organisation)
    given: list[str] = []
    while missing := min(count - len(given), _AT_ONCE):
        wanted = [f"L-{number:04d}" for number in range(numbers.last + 1, numbers.last + 1 + missing)]
        # People may have typed such a reference themselves.
        typed = set(Lot.objects.of(organisation).filter(reference__in=wanted).values_list("reference", flat=True))
        given += [reference for reference in wanted if reference not in typed]
        numbers.last += missing
    numbers.save()
    return given


def _check_reference_free(lot: Lot) -> None:
    if Lot.objects.of(lot.organisation).filter(reference=lot.reference).exclude(pk=lot.pk).exists():
        raise ValidationError(
            {
                "reference": gettext("There is a lot %(reference)s already. Type another reference.")
                % {"reference": lot.reference}
            }
        )


def check_no_cost(owner: Any, cost: Decimal | None) -> None:
    """Raises ValidationError where pieces of a member come with a cost."""
    if owner is not None and cost:
        raise ValidationError(
            {
                "unit_cost": gettext(
                    "The pieces are those of %(owner)s, so your stock has no cost of them. Leave the cost empty."
                )
                % {"owner": owner}
            }
        )


def check_count(quantity: int, *, field: str) -> None:
    if not 1 <= quantity <= MAX_QUANTITY:
        raise ValidationError(
            {
                field: gettext("Type a whole number from 1 to %(max_quantity)s.")
                % {"max_quantity": format_count(MAX_QUANTITY)}
            }
        )


@needs(Act.STOCK)
@transaction.atomic
def receive_lot(
    *,
    organisation: Organisation,
    user: User | None,
    material: Material,
    quantity: int,
    place: Place,
    received_on: date,
    length: Decimal | None = None,
    unit_cost: Decimal = Decimal(0),
    supplier: Supplier | None = None,
    reference: str = "",
    offcut: bool = False,
    reason: str = "",
    paper: str = "",
    amount: Decimal | None = None,
    owner: Any = None,
) -> Lot:
    """A new lot with its first movement. Without ``reference`` it gets the next number.

    ``length`` in mm, None for counted things. ``amount``: what all of it costs, in whole coins, of which the cost of
    one then follows; None: pieces by ``unit_cost``. ``owner``: the member whose own they are; no cost then.
    Raises ValidationError by field; nothing is stored then.
    """
    check_owner(organisation, material=material, place=place, supplier=supplier, owner=owner)
    check_count(quantity, field="quantity")
    check_no_cost(owner, unit_cost or amount)
    lock_references(organisation=organisation)
    unit_cost = unit_cost if amount is None else cost_of_one(amount, quantity)
    if unit_cost or amount:
        check_currency(organisation=organisation)
    if not reference:
        [reference] = take_numbers(organisation=organisation, count=1)
    lot = Lot(
        organisation=organisation,
        reference=reference,
        material=material,
        length=length,
        offcut=offcut,
        place=place,
        supplier=supplier,
        owner=owner,
        unit_cost=unit_cost,
        received_on=received_on,
    )
    _check_reference_free(lot)
    lot.full_clean()
    lot.save()
    post_movement(lot, Movement.Kind.RECEIVE, quantity, user, reason, paper=paper, amount=amount)
    return lot


@needs(Act.STOCK)
@transaction.atomic
def receive_more(
    *, organisation: Organisation, user: User, lot: Lot, quantity: int, reason: str = "", paper: str = ""
) -> Movement:
    """More of the same pieces into the same lot, at its cost. Raises ValidationError by field."""
    check_count(quantity, field="quantity")
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return post_movement(current, Movement.Kind.RECEIVE, quantity, user, reason, paper=paper)


@dataclass(frozen=True)
class NewLot:
    """As the arguments of ``receive_lot``.

    ``amount``: what all of its pieces cost as they lie there, in whole coins (delivery, and tax that nobody gives
    back); the cost of one follows, whatever ``unit_cost`` says. None: pieces by ``unit_cost``.
    """

    material: Material
    quantity: int
    place: Place
    received_on: date
    length: Decimal | None = None
    unit_cost: Decimal = Decimal(0)
    supplier: Supplier | None = None
    offcut: bool = False
    reason: str = ""
    paper: str = ""
    amount: Decimal | None = None
    owner: Any = None


@needs(Act.STOCK)
@transaction.atomic
def receive_lots(
    *,
    organisation: Organisation,
    user: User | None,
    lots: Sequence[NewLot],
    kind: Movement.Kind = Movement.Kind.RECEIVE,
) -> list[Lot]:
    """As ``receive_lot`` for many at once, in their order, each with the next number; queries grow by batches."""
    rows, amounts = [], []
    for new, reference in zip(lots, take_numbers(organisation=organisation, count=len(lots)), strict=True):
        check_owner(organisation, material=new.material, place=new.place, supplier=new.supplier, owner=new.owner)
        check_no_cost(new.owner, new.unit_cost or new.amount)
        check_count(new.quantity, field="quantity")
        # The one at hand: what a length may be goes by its units, and none is asked for each lot.
        new.material.organisation = organisation
        check_length(new.material, new.length)
        check_longest(new.material, new.length)
        lot = Lot(
            organisation=organisation,
            reference=reference,
            material=new.material,
            length=new.length,
            offcut=new.offcut,
            place=new.place,
            supplier=new.supplier,
            owner=new.owner,
            unit_cost=new.unit_cost if new.amount is None else cost_of_one(new.amount, new.quantity),
            received_on=new.received_on,
            on_hand=new.quantity,
        )
        amounts.append(first_amount(lot, organisation.currency) if new.amount is None else new.amount)
        books = Books(0, Decimal(0), lot.unit_cost, Decimal(0), 0, organisation.currency)
        lot.basis_value, lot.basis_pieces = books.basis_after(new.quantity, amounts[-1])
        # The rows it points to are loaded; looking each up again would cost four queries a lot.
        lot.clean_fields(exclude=["organisation", "material", "place", "supplier", "owner"])
        rows.append(lot)
    stored = Lot.objects.bulk_create(rows)
    Movement.objects.bulk_create(
        Movement(
            lot=lot,
            kind=kind,
            quantity=new.quantity,
            amount=amount,
            by=user,
            reason=new.reason[:200],
            paper=new.paper[:80],
        )
        for lot, new, amount in zip(stored, lots, amounts, strict=True)
    )
    for lot, amount in zip(stored, amounts, strict=True):
        lot.value = amount
    return stored


@needs(Act.STOCK)
@transaction.atomic
def reverse_received_lots(
    *, organisation: Organisation, user: User | None, quantities: Mapping[int, int], reason: str
) -> None:
    """Reverse what was received into lots: key of the lot to pieces. Raises ValidationError where they are gone."""
    check_reason(reason)
    short: list[Lot] = []
    keys = sorted(quantities)
    for start in range(0, len(keys), _AT_ONCE):
        some = keys[start : start + _AT_ONCE]
        lots = list(Lot.objects.of(organisation).select_for_update().filter(pk__in=some).order_by("pk"))
        for lot in lots:
            short += [lot] if lot.free < quantities[lot.pk] else []
            lot.on_hand -= quantities[lot.pk]
        if short:
            continue
        # The first movement of each: more may have been received into it since.
        first = Movement.objects.filter(lot__in=some).order_by().values("lot").annotate(first=Min("pk"))
        wrong = list(
            Movement.objects.filter(
                pk__in=first.values("first"), kind=Movement.Kind.RECEIVE, reverses=None, reversed_by=None
            )
        )
        make_room(wrong, user)
        books = books_of(some)
        for movement in wrong:
            basis = books[movement.lot_id].basis_after(-movement.quantity, -movement.amount)
            lot = next(each for each in lots if each.pk == movement.lot_id)
            lot.basis_value, lot.basis_pieces = basis
        Lot.objects.bulk_update(lots, ["on_hand", "basis_value", "basis_pieces"], batch_size=_AT_ONCE)
        back = [
            Movement(
                lot_id=movement.lot_id,
                kind=movement.kind,
                quantity=-movement.quantity,
                amount=-movement.amount,
                by=user,
                reason=reason[:200],
                paper=movement.paper,
                reverses=movement,
            )
            for movement in wrong
        ]
        if {row.lot_id: -row.quantity for row in back} != {lot.pk: quantities[lot.pk] for lot in lots}:
            raise ValidationError(
                gettext("A lot of this receipt was not received as it says, or was reversed already.")
            )
        Movement.objects.bulk_create(back)
    if short:
        first = short[0]
        more = f", and {count_noun(len(short) - 1, 'more lot')} like it" if len(short) > 1 else ""
        raise ValidationError(
            gettext(
                "%(first)s has %(value)s left of the %(quantities)s that came%(more)s, so the receipt "
                "cannot be reversed. Bring the pieces back into the lot first, or correct the counts on "
                "the lots instead."
            )
            % {
                "first": first,
                "value": count_noun(first.on_hand + quantities[first.pk], "piece"),
                "quantities": format_count(quantities[first.pk]),
                "more": more,
            }
        )


@needs(Act.STOCK)
@transaction.atomic
def change_lot(*, organisation: Organisation, user: User, lot: Lot, data: Mapping[str, Any], reason: str = "") -> Lot:
    """Put right what was written down wrong; ``data`` holds fields named in DESCRIPTION.

    Another cost of one is a repricing, for a ``reason``.
    """
    check_owner(organisation, supplier=data.get("supplier"))
    lock_references(organisation=organisation)
    current = Lot.objects.of(organisation).select_for_update().get(pk=lot.pk)
    changed = [name for name in DESCRIPTION if name in data]
    for name in changed:
        setattr(current, name, data[name])
    check_no_cost(current.owner, current.unit_cost)
    _check_reference_free(current)
    current.full_clean()
    if "unit_cost" in changed:
        _reprice(current, data["unit_cost"], user, reason)
        changed.remove("unit_cost")
    # Named fields only, so that the count is left to the movements.
    current.save(update_fields=changed)
    return current


@needs(Act.STOCK)
@transaction.atomic
def reprice_lot(
    *, organisation: Organisation, user: User | None, lot: Lot, unit_cost: Decimal, reason: str
) -> Repricing | None:
    """What is on hand is worth so much a piece from now on; what went out keeps what it cost.

    None where it costs that already. Raises ValidationError by field.
    """
    lock_references(organisation=organisation)
    current = Lot.objects.of(organisation).select_for_update().get(pk=lot.pk)
    return _reprice(current, unit_cost, user, reason)


def _reprice(lot: Lot, unit_cost: Decimal, user: User | None, reason: str) -> Repricing | None:
    """``lot`` is locked, and the numbers of lots before it, by which the currency stays."""
    books = books_of([lot.pk])[lot.pk]
    if unit_cost == books.unit_cost:
        return None
    if not reason.strip():
        raise ValidationError({"reason": gettext("Say why it costs something else, for example: invoice came.")})
    check_no_cost(lot.owner, unit_cost)
    if unit_cost:
        check_currency(organisation=lot.organisation)
    fresh = replace(books, unit_cost=unit_cost, basis_value=Decimal(0), basis_pieces=0)
    row = Repricing(
        lot=lot,
        pieces=books.pieces,
        old_cost=books.unit_cost,
        new_cost=unit_cost,
        amount=fresh.worth(books.pieces) - books.value,
        reason=reason.strip(),
        by=user,
    )
    row.clean_fields(exclude=["lot", "by"])
    row.save()
    Lot.objects.filter(pk=lot.pk).update(unit_cost=unit_cost, basis_value=0, basis_pieces=0)
    lot.refresh_from_db(fields=COSTED)
    return row


def make_room(movements: Sequence[Movement], user: User | None) -> None:
    """Before pieces that came in are taken out again at exactly what they had come in for.

    Where their lot was given another price since, or is not worth as much any more, the change of its value goes with
    them, as a repricing of its own. The caller holds the locks of the lots; each lot once.
    """
    books = books_of([movement.lot_id for movement in movements])
    latest = dict(Repricing.objects.filter(lot__in=books).order_by().values_list("lot").annotate(latest=Max("at")))
    rows = []
    for movement in movements:
        there = books[movement.lot_id]
        left = there.value - movement.amount
        fits = left >= 0 and (left == 0 or there.pieces > movement.quantity)
        repriced = movement.lot_id in latest and latest[movement.lot_id] >= movement.at
        over = movement.amount + there.change(-movement.quantity)
        if over and (repriced or not fits):
            rows.append(
                Repricing(
                    lot_id=movement.lot_id,
                    pieces=there.pieces,
                    old_cost=there.unit_cost,
                    new_cost=there.unit_cost,
                    amount=over,
                    reason=f"With the reversal of {format_count(movement.quantity)} that came in at another price",
                    by=user,
                )
            )
    Repricing.objects.bulk_create(rows)


# Movements


@needs(Act.STOCK)
@transaction.atomic
def adjust_by_count(
    *, organisation: Organisation, user: User, lot: Lot, counted: int, seen: int, reason: str, paper: str = ""
) -> Movement | None:
    """Set the lot to what was counted; ``seen`` is the count in the books that the counter looked at.

    None when the books were right. Raises ValidationError when the books changed meanwhile: the count may have been
    made before or after that, which nobody but the counter knows.
    """
    if not 0 <= counted <= MAX_QUANTITY:
        raise ValidationError(
            {
                "counted": gettext("Type a whole number from 0 to %(max_quantity)s.")
                % {"max_quantity": format_count(MAX_QUANTITY)}
            }
        )
    if counted == seen:
        return None
    check_reason(reason)
    # Locked, so that what is refused below is told as it was found.
    current = Lot.objects.of(organisation).select_for_update().get(pk=lot.pk)
    if current.on_hand != seen:
        raise ValidationError(
            {
                "counted": gettext(
                    "While this page was open the stock record went from %(seen)s to %(on_hand)s. Look at "
                    "the movements, count again if need be, and save."
                )
                % {"seen": count_noun(seen, "piece"), "on_hand": format_count(current.on_hand)}
            }
        )
    if current.promised and current.reserved + current.promised > counted:
        raise ValidationError({"counted": promised_words(current).strip()})
    if current.reserved > counted:
        raise ValidationError(
            {
                "counted": gettext(
                    "Houses hold %(reserved)s of the %(on_hand)s, more than were counted: %(value)s. Release "
                    "what is not there on the page of lot %(current)s first, so that its house is not built "
                    "on pieces that are gone."
                )
                % {
                    "reserved": format_count(current.reserved),
                    "on_hand": count_noun(current.on_hand, "piece"),
                    "value": holders_in_words(reservations_of_lots([current.pk])),
                    "current": current,
                }
            }
        )
    Lot.objects.filter(pk=current.pk).update(on_hand=counted)
    return _record(current, Movement.Kind.COUNT, counted - seen, user, reason, paper=paper)


@needs(Act.STOCK)
@transaction.atomic
def scrap(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    quantity: int,
    reason: str,
    paper: str = "",
    house: House | None = None,
    job: Any = None,
) -> Movement:
    """Take spoilt pieces out; ``house`` bears what they cost, or a job as a whole, or without either general expense.

    Raises ValidationError when there are not that many.
    """
    _check_bearer(organisation, house, job)
    check_count(quantity, field="quantity")
    check_reason(reason)
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return post_movement(current, Movement.Kind.SCRAP, -quantity, user, reason, paper=paper, house=house, job=job)


@needs(Act.STOCK)
@transaction.atomic
def issue_pieces(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    quantity: int,
    reason: str,
    paper: str = "",
    house: House | None = None,
    job: Any = None,
    holders: Sequence[tuple[House, int, str]] = (),
    sharing: Sequence[tuple[House, int]] = (),
) -> Movement:
    """Hand pieces out for some work, of a house or of a job as a whole; what ``house`` holds of the lot goes first.

    ``holders``, where the work is for several: houses that also give what they hold, at most how many, and for which
    purpose. ``sharing``: houses that bear it together, each in proportion to the number beside it; without them,
    ``house`` and ``job`` it is general expense. Raises ValidationError when there are not that many that it may take.
    """
    _check_bearer(organisation, house, job)
    check_count(quantity, field="quantity")
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    used: list[UsedHold] = []
    for one, most, purpose in [(house, quantity, "")] if house else holders:
        left = quantity - sum(row.quantity for row in used)
        used += consume(lot=current, house=one, quantity=min(left, most), purpose=purpose)
    movement = post_movement(
        current,
        Movement.Kind.ISSUE,
        -quantity,
        user,
        reason or _for_job(job),
        paper=paper,
        house=house,
        job=job,
        sharing=sharing,
    )
    record_used(used, movement)
    return movement


@needs(Act.STOCK)
@transaction.atomic
def return_pieces(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    quantity: int,
    reason: str,
    paper: str = "",
    house: House | None = None,
    job: Any = None,
    holders: Sequence[House] = (),
    of: QuerySet[Movement] | None = None,
) -> Movement:
    """Take pieces back that were handed out; ``house``, or one of ``holders``, holds again what it had held.

    They bring back what they had cost those who bore it: ``house`` or ``job``, or of ``of``, movements of the same lot,
    those who share them. Raises ValidationError at ``quantity`` where fewer are out for it. What may come back of
    ``holders`` is decided by whoever asked for them.
    """
    _check_bearer(organisation, house, job)
    check_count(quantity, field="quantity")
    # The lot first, as everywhere; what is out of it then stays until this is recorded.
    current = Lot.objects.of(organisation).select_for_update(no_key=True).get(pk=lot.pk)
    if house:
        House.objects.select_for_update(of=("self",), no_key=True).get(pk=house.pk)
    if job:
        type(job).objects.select_for_update(of=("self",), no_key=True).get(pk=job.pk)
        _check_job_has(current, job, quantity)
    shares = _coming_back(current, quantity, house, job, of)
    leave = leave_brought_back(current, quantity, house)
    movement = post_movement(
        current,
        Movement.Kind.RETURN,
        quantity,
        user,
        reason or _for_job(job),
        paper=paper,
        house=house,
        leave=leave,
        amount=-sum((share.amount for share in shares), Decimal(0)),
        shares=shares,
    )
    if house:
        _check_was_out(current, house, quantity)
    if whose := [house] if house else list(holders):
        used = UsedHold.objects.filter(movement__lot=current, movement__reversed_by=None, house__in=whose)
        used = used.filter(movement__kind=Movement.Kind.ISSUE)
        pieces_back.send(Lot, lot=current, used=used, quantity=quantity, user=user)
    return movement


def _check_bearer(organisation: Organisation, house: House | None, job: Any) -> None:
    check_owner(organisation, house=house, job=job)
    if house and job:
        raise ValidationError({"job": gettext("Choose a house, or a job as a whole: one of the two.")})


def _for_job(job: Any) -> str:
    return f"For {job}"[:200] if job else ""


def _check_job_has(lot: Lot, job: Any, quantity: int) -> None:
    """Raises ValidationError where the job as a whole has fewer of such pieces by the ledger. The caller locks it."""
    borne = CostShare.objects.filter(job=job, movement__lot__material=lot.material_id, movement__lot__length=lot.length)
    borne = borne.filter(movement__kind__in=OUT)
    out = borne.aggregate(sum=Sum("quantity", default=Decimal(0)))["sum"]
    if quantity > out:
        words = count_noun(int(out), "piece") if out else "None"
        raise ValidationError(
            {
                "quantity": f"{words} of these {'is' if out == 1 else 'are'} out for {job} by the ledger,"
                f" so {format_count(quantity)} cannot come back from it."
            }
        )


def _coming_back(lot: Lot, quantity: int, house: House | None, job: Any, of: QuerySet[Movement] | None) -> list[Share]:
    """What pieces that come back take off those who bore them.

    Of pieces that went out of this lot what they had cost; of more, what the house still bears of such pieces of other
    lots; of ends of other lengths what the lot's own cost, and no more than the house bears of the material.
    """
    books = books_of([lot.pk])[lot.pk]
    if lot.owner_id:
        # What a member's pieces cost is in no books here.
        whose = house.pk if house else None
        return [Share(whose, -Decimal(quantity), Decimal(0))]
    moved = Movement.objects.filter(kind__in=OUT)
    if of is not None:
        return brought_back(still_out(of), Decimal(quantity), books.currency)
    bearing = {"house": house} if house else {"house": None, "shares__house": None, "shares__job": job}
    out = still_out(moved.filter(lot=lot, **bearing))
    here = min(Decimal(quantity), sum((share.quantity for share in out), Decimal(0)))
    shares = brought_back(out, here, books.currency) if here > 0 else []
    amount = -sum((share.amount for share in shares), Decimal(0))
    if rest := int(quantity - here):
        others = moved.filter(lot__material=lot.material_id, **bearing).exclude(lot=lot)
        alike = still_out(others.filter(lot__length=lot.length))
        if sum(share.quantity for share in alike) >= rest:
            amount -= sum(share.amount for share in brought_back(alike, Decimal(rest), books.currency))
        else:
            more = books.change(rest)
            borne = sum((share.amount for share in still_out(others)), Decimal(0))
            amount += min(more, borne) if house else more
    return [Share(house.pk if house else None, -Decimal(quantity), -amount, job.pk if job else None)]


def _check_was_out(lot: Lot, house: House, quantity: int) -> None:
    """Raises ValidationError where more has come back of the house than went out; the movements are posted already.

    Ends of what went out in other lengths may come back. The caller holds the lock of the house.
    """
    moved = Movement.objects.filter(house=house, kind__in=OUT, lot__material=lot.material_id)
    same = moved.filter(lot__length=lot.length)
    over = same.aggregate(sum=Sum("quantity", default=0))["sum"]
    longer = moved.filter(kind=Movement.Kind.ISSUE).exists() and not same.filter(kind=Movement.Kind.ISSUE).exists()
    if over > 0 and not longer:
        out = quantity - over
        words = count_noun(out, "piece") if out else "None"
        raise ValidationError(
            {
                "quantity": f"{words} of these {'is' if out == 1 else 'are'} out for {house.name} by the ledger,"
                f" so {format_count(quantity)} cannot come back from it."
            }
        )


def check_reason(reason: str) -> None:
    if not reason.strip():
        raise ValidationError({"reason": gettext("Say why in a few words, for example: bent twice.")})


def post_movement(
    lot: Lot,
    kind: Movement.Kind,
    quantity: int,
    user: User | None,
    reason: str,
    *,
    amount: Decimal | None = None,
    shares: Sequence[Share] | None = None,
    sharing: Sequence[tuple[House, int]] = (),
    taken_for: House | None = None,
    job: Any = None,
    **more: Any,
) -> Movement:
    """Change the count where the result is from what is held to MAX_QUANTITY, and record it with what it costs.

    In the caller's transaction. What is a member's goes out by leave alone (``owners.leave``); ``taken_for`` is the
    house that a cut is for. ``amount``: with its sign; None: pieces received by the cost of one, all else at the
    ratio of the lot. ``shares``: who bears it; None: houses of ``sharing`` by the number beside each, or the movement's
    house, or ``job`` as a whole, or general expense. ``more``: further fields of the movement.
    Raises ValidationError when there are not that many free.
    """
    moved = Lot.objects.filter(
        pk=lot.pk,
        on_hand__gte=F("reserved") + F("promised") + max(0, -quantity),
        on_hand__lte=MAX_QUANTITY - max(0, quantity),
    ).update(on_hand=F("on_hand") + quantity)
    if not moved:
        there = Lot.objects.get(pk=lot.pk)
        if quantity < 0:
            raise ValidationError(
                {
                    "quantity": gettext(
                        "%(lot)s has %(on_hand)s left, so %(value)s cannot be taken out.%(there)s%(there_2)s"
                    )
                    % {
                        "lot": lot,
                        "on_hand": count_noun(there.on_hand, "piece"),
                        "value": format_count(-quantity),
                        "there": reserved_words(there),
                        "there_2": promised_words(there),
                    }
                }
            )
        raise ValidationError(
            {
                "quantity": gettext("A lot holds at most %(max_quantity)s pieces, and %(lot)s has %(on_hand)s.")
                % {"max_quantity": format_count(MAX_QUANTITY), "lot": lot, "on_hand": format_count(there.on_hand)}
            }
        )
    if lot.owner_id and quantity < 0 and kind in TAKES_OUT and not more.get("reverses"):
        alone = sharing[0][0] if len(sharing) == 1 else None
        taking = Taking(taken_for or more.get("house") or alone, more.get("member"))
        more["leave"] = leave_to_take(lot, -quantity, taking)
    return _record(lot, kind, quantity, user, reason, amount=amount, shares=shares, sharing=sharing, job=job, **more)


def post_movements(
    *, kind: Movement.Kind, user: User | None, changes: Sequence[tuple[Lot, int, str]], paper: str = ""
) -> list[Movement]:
    """As ``post_movement`` for lots of one organisation that the caller has locked and looked at, each lot once.

    ``changes``: lot, pieces and reason; the movements come in their order. Four queries for every 500.
    """
    stored: list[Movement] = []
    for start in range(0, len(changes), _AT_ONCE):
        some = changes[start : start + _AT_ONCE]
        books = books_of([lot.pk for lot, *_ in some])
        fresh = []
        for lot, quantity, reason in some:
            amount = books[lot.pk].change(quantity)
            lot.on_hand = books[lot.pk].pieces + quantity
            lot.basis_value, lot.basis_pieces = books[lot.pk].basis_after(quantity, amount)
            row = Movement(lot=lot, kind=kind, quantity=quantity, amount=amount, by=user, paper=paper[:80])
            row.reason = reason.strip()[:200]
            fresh.append(row)
        # The constraints over a lot hold what it may come to.
        Lot.objects.bulk_update([lot for lot, *_ in some], ["on_hand", "basis_value", "basis_pieces"])
        made = Movement.objects.bulk_create(fresh)
        store_shares([(row, [Share(None, Decimal(-row.quantity), -row.amount)]) for row in made if kind in BORNE])
        stored += made
    return stored


def _record(
    lot: Lot,
    kind: Movement.Kind,
    quantity: int,
    user: User | None,
    reason: str,
    *,
    amount: Decimal | None = None,
    shares: Sequence[Share] | None = None,
    sharing: Sequence[tuple[House, int]] = (),
    job: Any = None,
    **more: Any,
) -> Movement:
    """The movement of a count that is changed already, and locked by that."""
    there = books_of([lot.pk])[lot.pk]
    books = replace(there, pieces=there.pieces - quantity)
    if amount is None:
        received = kind == Movement.Kind.RECEIVE and quantity > 0
        amount = books.cost_of(quantity) if received else books.change(quantity)
    movement = Movement(lot=lot, kind=kind, quantity=quantity, amount=amount, by=user, reason=reason.strip(), **more)
    # The rows it points to are loaded; the constraints over them are the database's.
    movement.clean_fields(exclude=[field.name for field in Movement._meta.fields if field.is_relation])
    movement.save()
    basis = books.basis_after(quantity, amount)
    if basis != (books.basis_value, books.basis_pieces):
        Lot.objects.filter(pk=lot.pk).update(basis_value=basis[0], basis_pieces=basis[1])
    if shares is None and kind in BORNE:
        alone = [Share(movement.house_id, Decimal(-quantity), -amount, job.pk if job else None)]
        shares = shared_by(-quantity, -amount, sharing, books.currency) if sharing else alone
    store_shares([(movement, shares or ())])
    lot.refresh_from_db(fields=COSTED)
    return movement
