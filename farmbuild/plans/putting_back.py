"""What a house has or holds too much of goes back in one press: whole sticks into their lot, holds to be free."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Max, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said, said_count, said_list
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.balance import HouseBalance, balances
from farmbuild.plans.bridge import OF_JOINTS, TooMuch
from farmbuild.plans.reserving import services as reserving
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.issued import OUT
from farmbuild.stock.models import Lot, Movement, Reservation, UsedHold
from farmbuild.stock.reserving.consuming import reduce_reservation
from farmbuild.stock.reserving.services import lock_lots
from farmbuild.stock.services import return_pieces

#: What cannot be put back by one press, and what to do with it.
BENT = gettext_noop("in hoops; use them for another house of the same recipe")
CUT = gettext_noop("cut already; return what is whole on the page of its lot")
CUT_HELD = gettext_noop("held to be cut; release the stick on the page of its hold")
FOR_JOINTS = gettext_noop("held for joints; keep it where the sticks held for runs are shorter than the take-off's")
CHANGED = gettext_lazy("This has changed since the page was opened, so nothing was returned. See what is too much now.")
#: What a hold of whole pieces is of.
WHAT = ("purpose", "material", "length", "offcut")
REASON = "Too much for the house as it is specified now"


@dataclass(frozen=True)
class TooMuchRow:
    """Of one house; ``held``: it holds it, else it has it. ``refused``: why one press does not put it back."""

    material: str
    name: str
    length: Decimal | None
    quantity: int
    purpose: str
    offcut: bool
    held: bool
    refused: str

    @property
    def key(self) -> str:
        """Names the row in a form, with how many the page showed."""
        parts = (self.held, self.material, self.length, self.purpose, self.offcut, self.quantity)
        return "|".join(str(int(part) if isinstance(part, bool) else part) for part in parts)

    @property
    def what(self) -> str:
        """What the press does."""
        if self.refused:
            return self.refused
        if self.held and self.purpose in OF_JOINTS:
            return FOR_JOINTS
        if self.held:
            return gettext_noop("held; releasing frees it for others")
        return gettext_noop("issued whole; goes back to its lot")


def too_much_rows(balance: HouseBalance, house: House) -> list[TooMuchRow]:
    """What the house has first, then what it holds; one query, however many rows."""
    whole: Counter[tuple[object, ...]] = Counter()
    for *key, quantity in _whole(house).values_list(*WHAT, "quantity"):
        whole[tuple(key)] += quantity
    rows = [_row(balance, one, held=False, refused=_why_not(one)) for one in balance.too_much]
    for one in _together(balance.held_too_much):
        uncut = whole[one.purpose, one.material, one.length, one.offcut] >= one.quantity
        rows.append(_row(balance, one, held=True, refused="" if uncut else CUT_HELD))
    return rows


def _together(rows: Iterable[TooMuch]) -> Iterator[TooMuch]:
    """What is held in the yard and on order of one kind is one row."""
    sums: Counter[TooMuch] = Counter()
    for one in rows:
        sums[replace(one, quantity=0)] += one.quantity
    return (replace(one, quantity=quantity) for one, quantity in sums.items())


def _row(balance: HouseBalance, one: TooMuch, *, held: bool, refused: str) -> TooMuchRow:
    name = balance.materials[one.material].name
    return TooMuchRow(one.material, name, one.length, one.quantity, one.purpose, one.offcut, held, refused)


def _why_not(one: TooMuch) -> str:
    return BENT if one.bent else CUT if one.offcut else ""


def _whole(house: House) -> QuerySet[Reservation]:
    """Holds of whole pieces, in the yard or on order, with ``WHAT`` they are of."""
    rows = Reservation.objects.of(house.organisation).filter(house=house, pieces=None).order_by()
    return rows.annotate(
        material=Coalesce("lot__material__code", "order_line__material__code"),
        length=Coalesce("lot__length", "order_line__length"),
        offcut=Coalesce("lot__offcut", False),
    )


@needs(Act.STOCK)
@transaction.atomic
def put_back(*, organisation: Organisation, user: User, house: House, key: str) -> str:
    """Put back what the row of that ``key`` says; gives in words what went where.

    Raises ValidationError when the row is not as it was shown, or is of pieces that are cut or bent.
    """
    # Presses on one house come one after the other.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    house = any_house_of(organisation=organisation).get(pk=house.pk)
    if spec_problems(house, organisation.unit_system):
        raise ValidationError(CHANGED)
    balance = balances(organisation=organisation, houses=[house])[house.pk]
    row = next((row for row in too_much_rows(balance, house) if row.key == key), None)
    if row is None:
        raise ValidationError(CHANGED)
    if row.refused:
        raise ValidationError(
            gettext("%(quantity)s of %(row_name)s: %(refused)s.")
            % {"quantity": said_count(row.quantity, "piece"), "row_name": row.name, "refused": said(row.refused)}
        )
    return _release(organisation, user, house, row) if row.held else _return(organisation, user, house, row)


def _return(organisation: Organisation, user: User, house: House, row: TooMuchRow) -> str:
    """Into the lots that they were issued from, the last one issued from first; the house holds them no more.

    Those that were issued for the purpose of the row come before those issued for another.
    """
    issued = Movement.objects.filter(house=house, kind__in=OUT, lot__material__code=row.material)
    issued = issued.filter(lot__length=row.length, lot__offcut=row.offcut)
    lots = list(
        issued.order_by().values("lot").annotate(last=Max("pk")).order_by("-last").values_list("lot", flat=True)
    )
    locked = lock_lots(lots)
    # Summed under the locks: what someone returned a moment ago is not returned again.
    out = {lot: -sum_ for lot, sum_ in issued.order_by().values_list("lot").annotate(Sum("quantity"))}
    own = _of_purpose(house, row.purpose, out)
    left, went = row.quantity, dict.fromkeys(lots, 0)
    for most in (own, out):
        for lot in lots:
            taken = max(0, min(left, most[lot] - went[lot], out[lot] - went[lot]))
            went[lot] += taken
            left -= taken
    if left:
        raise ValidationError(CHANGED)
    for lot, quantity in went.items():
        if quantity:
            _return_to(organisation, user, locked[lot], quantity, house)
    words = said_list(
        gettext("%(pieces)s to %(lot)s, %(place)s")
        % {"pieces": format_count(n), "lot": locked[lot], "place": locked[lot].place}
        for lot, n in went.items()
        if n
    )
    pieces = said_count(row.quantity, "piece")
    return gettext("%(pieces)s of %(what)s returned: %(words)s.") % {"pieces": pieces, "what": row.name, "words": words}


def _of_purpose(house: House, purpose: str, out: Mapping[int, int]) -> dict[int, int]:
    """By lot, pieces that are out for just that purpose; "" is what was issued without having been held."""
    used = UsedHold.objects.filter(movement__lot__in=out, movement__house=house, house=house)
    used = used.filter(movement__kind=Movement.Kind.ISSUE, movement__reversed_by=None).order_by()
    sums: Counter[tuple[int, str]] = Counter()
    for lot, of, quantity in used.values_list("movement__lot", "purpose").annotate(left=Sum(F("quantity") - F("back"))):
        sums[lot, of] += quantity
    if purpose:
        return {lot: sums[lot, purpose] for lot in out}
    return {lot: out[lot] - sum(n for (of, _), n in sums.items() if of == lot) for lot in out}


def _return_to(organisation: Organisation, user: User, lot: Lot, quantity: int, house: House) -> None:
    held = dict(Reservation.objects.filter(lot=lot, house=house).values_list("pk", "quantity"))
    return_pieces(organisation=organisation, user=user, lot=lot, quantity=quantity, reason=REASON, house=house)
    # What comes back to a house's lot is held for it again; this is what it has too much of.
    for again in Reservation.objects.filter(lot=lot, house=house).order_by("-pk"):
        if (more := again.quantity - held.get(again.pk, 0)) > 0:
            reduce_reservation(again, more)


def _release(organisation: Organisation, user: User, house: House, row: TooMuchRow) -> str:
    """What is on order first: what lies in the yard stays at hand for the house as long as it needs any."""
    left = row.quantity
    what = dict(zip(WHAT, (row.purpose, row.material, row.length, row.offcut), strict=True))
    for hold in _whole(house).filter(**what).order_by(F("lot").asc(nulls_first=True), "-need_by", "-pk"):
        if left:
            left -= reserving.release(
                organisation=organisation, user=user, reservation=hold, quantity=min(left, hold.quantity)
            )
    if left:
        raise ValidationError(CHANGED)
    words = gettext("%(pieces)s of %(what)s are not held for %(house)s any more.")
    return words % {"pieces": said_count(row.quantity, "piece"), "what": row.name, "house": house.name}
