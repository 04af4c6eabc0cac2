"""Where a house stands with its materials: needed = in the house + held + on order + still to find, row by row.

Worked out from the house as it is now, the ledger, the batches and the holds, whatever plan made them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from django.db.models import F, QuerySet, Sum

from farmbuild.catalogue.bridge import material_input
from farmbuild.catalogue.selectors import materials_kept
from farmbuild.common.compiled import compiled_once
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.plans.bridge import (
    OF_JOINTS,
    AlreadyThere,
    Covered,
    HouseInput,
    InHouse,
    Material,
    MoreJoints,
    TakeoffRow,
    TooMuch,
    house_input,
    in_house,
    subtract_in_house,
    take_off_of,
)
from farmbuild.plans.models import PlanHouse
from farmbuild.plans.signals import asking_what_is_kept
from farmbuild.sites.bridge import WholeMaterials, materials_in, spec_problems, whole
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_by_key, houses_with_materials
from farmbuild.stock.models import HeldPiece, Reservation

#: Purpose, material, and the length of one piece: None for counted things and for runs that are butted together.
Key = tuple[str, str, Decimal | None]


@dataclass(frozen=True)
class BalanceRow:
    """One purpose of one material: pieces, or mm of a run where ``run`` says so."""

    house: str
    purpose: str
    material: Material
    length: Decimal | None
    run: bool
    needed: Decimal
    in_house: Decimal
    held: Decimal
    on_order: Decimal

    @property
    def to_find(self) -> Decimal:
        return self.needed - self.in_house - self.held - self.on_order


@dataclass(frozen=True)
class HouseBalance:
    """``too_much``: what lies in the house and is not needed. ``held_too_much``: what is held and is not needed.

    ``materials`` by code, those of both among them.
    """

    rows: tuple[BalanceRow, ...]
    too_much: tuple[TooMuch, ...]
    held_too_much: tuple[TooMuch, ...]
    materials: Mapping[str, Material]

    @property
    def surely_too_much(self) -> tuple[TooMuch, ...]:
        """All but what is held for joints: where a plan took shorter sticks than the spec's, a run has more of them."""
        return (*self.too_much, *(one for one in self.held_too_much if one.purpose not in OF_JOINTS))

    @property
    def pieces(self) -> Counter[str]:
        """Sums over all rows that are counted, by the name of the column; runs are left out."""
        sums: Counter[str] = Counter()
        for row in self.rows:
            if not row.run:
                for name in ("needed", "in_house", "held", "on_order", "to_find"):
                    sums[name] += int(getattr(row, name))
        return sums

    @property
    def short(self) -> tuple[BalanceRow, ...]:
        return tuple(row for row in self.rows if row.to_find > 0)


def balances(*, organisation: Organisation, houses: Sequence[House], loaded: bool = False) -> dict[int, HouseBalance]:
    """By the key of the house, archived or not; each can be built as specified. As many queries for one as for many.

    ``loaded``: they were read with their materials for this page, so that they need not be read again.
    """
    if not loaded:
        houses = houses_by_key(organisation=organisation, keys=[house.pk for house in houses])
    rows = {row.code: material_input(row) for row in materials_kept(organisation=organisation)}
    materials = _as_one(whole(rows))
    there, held, coming = (_by_house(pieces) for pieces in (in_house(houses), *_held(organisation, houses)))
    found = {}
    for house in houses:
        own = tuple(tuple(pieces.get(house.slug, ())) for pieces in (there, held, coming))
        takeoff = take_off_of(house, organisation.unit_system)
        units = UnitSystem(organisation.unit_system)
        found[house.pk] = _balance(house_input(house), takeoff, own, materials, organisation.kerf, units)
    return found


class _Materials(dict[str, Material]):
    """By code; the same one for the same materials, so that it stands for all of them in a key."""

    __hash__ = object.__hash__  # type: ignore[assignment]

    def __eq__(self, other: object) -> bool:
        return self is other


@lru_cache(maxsize=64)
def _as_one(named: WholeMaterials) -> _Materials:
    return _Materials((material.code, material) for material, _ in named)


# Most pages of a season ask where the same houses stand, and equal houses with equal pieces stand alike.
@lru_cache(maxsize=512)
def _balance(
    house: HouseInput,
    takeoff: tuple[TakeoffRow, ...],
    own: tuple[tuple[InHouse, ...], ...],
    materials: _Materials,
    kerf: Decimal,
    units: UnitSystem,
) -> HouseBalance:
    """``own``: the pieces in the house, held, and on order. What take-offs say in words is in their rows."""
    wanted: Sequence[TakeoffRow] = takeoff
    steps = _step_by_step(wanted, own, materials, kerf)
    if more := [step.more[house.ref] for step in steps if step.more]:
        # Sticks of other lengths than the spec's have other joints, whose screws, tape and sleeves are needed.
        joints = MoreJoints(sum(one.taped for one in more), sum(one.of_curtains for one in more))
        wanted = [joints.follow(house, row, materials, units) for row in wanted]
        steps = _step_by_step(wanted, own, materials, kerf)
    counts = [_sizes(step.there, materials) for step in steps]
    return HouseBalance(
        rows=tuple(
            BalanceRow(house.ref, *_about(key, materials), needed, *(count[key] for count in counts))
            for key, needed in _sizes(wanted, materials).items()
        ),
        too_much=tuple(steps[0].too_much),
        held_too_much=(*steps[1].too_much, *steps[2].too_much),
        materials=materials,
    )


def _step_by_step(
    takeoff: Sequence[TakeoffRow],
    pieces: Iterable[Iterable[InHouse]],
    materials: Mapping[str, Material],
    kerf: Decimal,
) -> list[Covered]:
    """Each takes its pieces out of what the one before left over."""
    steps: list[Covered] = []
    for some in pieces:
        steps.append(subtract_in_house(steps[-1].rows if steps else takeoff, some, materials, kerf))
    return steps


def still_to_find(*, organisation: Organisation, material: str = "") -> list[tuple[int, House, BalanceRow]]:
    """What houses of accepted plans need beyond what they have and hold: number of the plan, house and row.

    The plan found it nowhere, or the house has changed since, or something broke or was let go. A house that cannot be
    built as it is specified now says so itself. ``material``: the code of the only one that is asked for.
    """
    accepted = PlanHouse.objects.filter(accepted=True, plan__organisation=organisation)
    numbers = dict(accepted.values_list("house", "plan__number"))
    houses = houses_with_materials(organisation=organisation).filter(pk__in=numbers)
    asked = [house for house in houses if not material or material in materials_in(house)]
    live = [house for house in asked if not spec_problems(house, organisation.unit_system)]
    found = balances(organisation=organisation, houses=live, loaded=True) if live else {}
    return [
        (numbers[house.pk], house, row)
        for house in live
        for row in found[house.pk].short
        if material in ("", row.material.code)
    ]


def _about(key: Key, materials: dict[str, Material]) -> tuple[str, Material, Decimal | None, bool]:
    purpose, code, length = key
    return purpose, materials[code], length, materials[code].butted


def _sizes(rows: Iterable[TakeoffRow | AlreadyThere], materials: dict[str, Material]) -> Counter[Key]:
    sizes: Counter[Key] = Counter()
    for row in rows:
        butted = materials[row.material].butted
        size = row.length if butted and row.length else Decimal(1)
        sizes[row.purpose, row.material, None if butted else row.length] += row.quantity * size
    return sizes


def _by_house(pieces: Iterable[InHouse]) -> dict[str, list[InHouse]]:
    by_house: dict[str, list[InHouse]] = {}
    for piece in pieces:
        by_house.setdefault(piece.house, []).append(piece)
    return by_house


def _held(organisation: Organisation, houses: Sequence[House]) -> tuple[list[InHouse], list[InHouse]]:
    """What these houses hold in the yard, and on order, as the pieces that they get; two queries."""
    slugs = {house.pk: house.slug for house in houses}
    yard: list[InHouse] = []
    coming: list[InHouse] = []
    # Each is of a lot or of a line of an order.
    for house, code, length, ordered, ordered_length, purpose, offcut, pieces in _held_whole(organisation.pk, slugs):
        own = (code, length) if code else (ordered, ordered_length)
        (yard if code else coming).append(InHouse(slugs[house], *own, pieces, purpose, bool(offcut)))
    for house, code, ordered, length, purpose, pieces in _held_cut(organisation.pk, slugs):
        (yard if code else coming).append(InHouse(slugs[house], code or ordered, length, pieces, purpose, offcut=True))
    for found in (yard, coming):
        found.sort(key=lambda one: (one.house, one.material, one.length or 0, one.purpose, one.offcut))
    for _, kept in asking_what_is_kept.send(PlanHouse, organisation=organisation, houses=list(slugs)):
        coming += kept
    return yard, coming


@compiled_once
def _held_whole(organisation: int, houses: Sequence[int]) -> QuerySet[Reservation]:
    rows = Reservation.objects.filter(organisation_id=organisation, house__in=houses, pieces=None).order_by()
    by_size = ("lot__material__code", "lot__length", "order_line__material__code", "order_line__length")
    return rows.values_list("house", *by_size, "purpose", "lot__offcut").annotate(sum=Sum("quantity"))


@compiled_once
def _held_cut(organisation: int, houses: Sequence[int]) -> QuerySet[HeldPiece]:
    rows = HeldPiece.objects.filter(house__in=houses, reservation__organisation=organisation).order_by()
    codes = ("reservation__lot__material__code", "reservation__order_line__material__code")
    by_size = rows.values_list("house", *codes, "length", "purpose")
    return by_size.annotate(sum=Sum(F("reservation__quantity") * F("each")))
