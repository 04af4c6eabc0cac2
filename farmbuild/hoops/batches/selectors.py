"""Reads of hoop batches."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Avg, Count, Exists, F, IntegerField, Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from farmbuild.catalogue.models import Material
from farmbuild.common.compiled import compiled_once
from farmbuild.hoops.batches.bridge import bend_of
from farmbuild.hoops.batches.models import BatchHouse, BatchSticks, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House
from farmbuild.stock.models import Leave, Lot


def batches_of(*, organisation: Organisation) -> QuerySet[HoopBatch]:
    """With recipe, tube and bender loaded, newest first."""
    return HoopBatch.objects.of(organisation).select_related(
        "recipe__tube",
        "recipe__sleeve_material",
        "recipe__organisation",
        "bender",
        "organisation",
        "accepted_trial__accepted_by",
    )


def batches_in_trial(*, organisation: Organisation) -> QuerySet[HoopBatch]:
    """Whose trial hoop is not accepted yet."""
    return batches_of(organisation=organisation).filter(state=HoopBatch.State.TRIAL)


def batches_for(*, organisation: Organisation, houses: Iterable[House]) -> dict[int, list[HoopBatch]]:
    """By the key of the house, the batches that make hoops for it, by number, with the trial accepted; one query."""
    found: dict[int, list[HoopBatch]] = {}
    for row in _shares_with_trial(organisation.pk, [house.pk for house in houses]):
        found.setdefault(row.house_id, []).append(row.batch)
    return found


@compiled_once
def _shares_with_trial(organisation: int, houses: Sequence[int]) -> QuerySet[BatchHouse]:
    rows = BatchHouse.objects.filter(batch__organisation=organisation, house__in=houses)
    return rows.select_related("batch__accepted_trial__by").order_by("batch__number")


@dataclass(frozen=True)
class HouseHoops:
    """What batches bend for a house. ``pulls`` of the hoops that are bent and of all that it is to get from them; the
    trial hoop, its first, is not among them, for it is work of its own."""

    batches: tuple[HoopBatch, ...]
    wanted: int
    bent: int
    pulls_wanted: int
    pulls_bent: int
    #: They make every hoop that the house has.
    all_hoops: bool

    @property
    def unfinished(self) -> HoopBatch | None:
        """The first batch that is not done."""
        return next((batch for batch in self.batches if batch.state != HoopBatch.State.DONE), None)


def hoops_for(*, houses: Collection[int]) -> dict[int, HouseHoops]:
    """By the key of the house, for those that batches bend for; one query.

    Of a batch for several houses, the house that needs its hoops first gets them first.
    """
    left: dict[int, int] = {}
    found: dict[int, list[tuple[HoopBatch, int, int]]] = {}
    named: dict[int, House] = {}
    for share in _shares_beside(houses):
        rest = left.setdefault(share.batch_id, share.batch.hoops_bent)
        bent = min(share.hoops, rest)
        left[share.batch_id] -= bent
        if share.house_id in houses:
            found.setdefault(share.house_id, []).append((share.batch, share.hoops, bent))
            named[share.house_id] = share.house
    return {pk: _house_hoops(named[pk], shares) for pk, shares in found.items()}


@compiled_once
def _shares_beside(houses: Sequence[int]) -> QuerySet[BatchHouse]:
    """Of all batches that bend for one of the houses, by batch, the house first that needs its hoops first."""
    rows = BatchHouse.objects.filter(batch__shares__house__in=houses).distinct()
    rows = rows.select_related("batch__recipe__tube", "batch__recipe__sleeve_material", "house")
    return rows.order_by("batch", "house__need_date", "house__slug")


def _house_hoops(house: House, shares: Iterable[tuple[HoopBatch, int, int]]) -> HouseHoops:
    shares = list(shares)
    pulls = [bend_of(batch).pulls_in_hoop for batch, *_ in shares]
    wanted = sum(hoops for _, hoops, _ in shares)
    bent = sum(hoops for *_, hoops in shares)

    def less_the_trial(total: int, hoops: int) -> int:
        return max(0, total - pulls[0]) if hoops else 0

    return HouseHoops(
        batches=tuple(batch for batch, *_ in shares),
        wanted=wanted,
        bent=bent,
        pulls_wanted=less_the_trial(sum(n * row[1] for n, row in zip(pulls, shares, strict=True)), wanted),
        pulls_bent=less_the_trial(sum(n * row[2] for n, row in zip(pulls, shares, strict=True)), bent),
        all_hoops=wanted >= hoop_count(house),
    )


def last_bent_at(*, houses: Collection[int]) -> dict[int, datetime]:
    """By the key of the house, when hoops were last recorded in a batch that bends for it; one query."""
    rows = BentHoops.objects.filter(hoops__gt=0, batch__shares__house__in=houses).order_by()
    return dict(
        rows.values("batch__shares__house").annotate(last=Max("at")).values_list("batch__shares__house", "last")
    )


def fits_bender(*, bender: Bender, tube: Material) -> bool:
    """Whether the tube is among those that the bender is said to fit; any is where none is named."""
    tubes = set(bender.tubes.values_list("pk", flat=True))
    return not tubes or tube.pk in tubes


def trials_of(*, batch: HoopBatch) -> QuerySet[TrialHoop]:
    """Attempts in order, with who measured them and ``spoilt_sticks``."""
    rows = TrialHoop.objects.filter(batch=batch).select_related("batch", "by", "accepted_by").order_by("attempt")
    return rows.annotate(spoilt_sticks=Coalesce(Sum("spoilt__sticks"), 0))


def latest_trial(*, batch: HoopBatch) -> TrialHoop | None:
    return trials_of(batch=batch).last()


def trial_before(*, batch: HoopBatch, attempt: int) -> TrialHoop | None:
    return trials_of(batch=batch).filter(attempt__lt=attempt).last()


def trial_to_ask_of(*, batch: HoopBatch) -> TrialHoop | None:
    """The trial hoop last measured, while sticks of it are not written off: the next may be bent of them again."""
    trial = latest_trial(batch=batch)
    return trial if trial and sticks_to_write_off(batch=batch, trial=trial) else None


def unbent_sticks(*, batch: HoopBatch) -> int:
    """Issued sticks that are neither spoilt nor in a hoop, a trial hoop included."""
    left = batch.sticks_issued - batch.sticks_spoilt - batch.sticks_a_hoop * batch.hoops_bent
    if batch.state == HoopBatch.State.TRIAL and (trial := latest_trial(batch=batch)):
        left -= batch.sticks_a_hoop - trial.spoilt_sticks
    return max(0, left)


def sticks_to_issue(*, batch: HoopBatch) -> int:
    """What the batch takes from stock now: for the trial hoop until one is accepted, then for all hoops left."""
    if batch.state == HoopBatch.State.TRIAL:
        return max(0, batch.trial_sticks_missing)
    return max(0, batch.hoops_left * batch.sticks_a_hoop - unbent_sticks(batch=batch))


def hoops_in_hand(*, batch: HoopBatch) -> int:
    """Hoops that its unbent sticks make."""
    return unbent_sticks(batch=batch) // batch.sticks_a_hoop


def sticks_to_write_off(*, batch: HoopBatch, trial: TrialHoop | None = None) -> int:
    """Issued sticks that may be written off: of ``trial``, one of trials_of, or else those in no hoop."""
    if trial is None:
        return unbent_sticks(batch=batch)
    return max(0, batch.sticks_a_hoop - trial.spoilt_sticks)


@dataclass(frozen=True)
class LotSticks:
    """Sticks of one lot that a batch has, those given back taken off."""

    lot: Lot
    sticks: int


def sticks_by_lot(*, batch: HoopBatch) -> list[LotSticks]:
    """Lots that gave the batch sticks, by reference; two queries."""
    sums = (
        BatchSticks.objects.filter(batch=batch)
        .order_by()
        .values("movement__lot")
        .annotate(moved=Sum("movement__quantity"))
        .values_list("movement__lot", "moved")
    )
    moved = {pk: -total for pk, total in sums}
    lots = Lot.objects.filter(pk__in=moved).select_related("place").order_by("reference")
    return [LotSticks(lot, moved[lot.pk]) for lot in lots]


@dataclass(frozen=True)
class HouseSticks:
    """Sticks of one material and length that batches have for a house, bent or about to be."""

    house: int
    material: str
    length: Decimal
    sticks: int


def sticks_for(*, houses: Collection[int]) -> list[HouseSticks]:
    """Of the sticks issued to batches and not spoilt, those that make the hoops of these houses; three queries.

    Where there are fewer than all houses of the batch take, the house that needs its hoops first gets them first.
    """
    in_order = _shares_in_order(houses)
    batches = {share.batch_id: share.batch for share in in_order}
    piles: dict[int, list[list[Any]]] = {}
    for batch, material, length, total in _sticks_by_size(list(batches)) if batches else ():
        piles.setdefault(batch, []).append([material, length, -total])
    found = []
    for batch in batches.values():
        spoilt = batch.sticks_spoilt
        for pile in piles.get(batch.pk, []):
            gone = min(spoilt, pile[2])
            pile[2] -= gone
            spoilt -= gone
    for share in in_order:
        wanted = share.hoops * share.batch.sticks_a_hoop
        for pile in piles.get(share.batch_id, []):
            taken = min(wanted, pile[2])
            pile[2] -= taken
            wanted -= taken
            if taken and share.house_id in houses:
                found.append(HouseSticks(share.house_id, pile[0], pile[1], taken))
    return found


@compiled_once
def _shares_in_order(houses: Sequence[int]) -> QuerySet[BatchHouse]:
    shares = BatchHouse.objects.filter(batch__shares__house__in=houses).distinct()
    return shares.select_related("batch").order_by("batch", "house__need_date", "house__slug")


@compiled_once
def _sticks_by_size(batches: Sequence[int]) -> QuerySet[BatchSticks]:
    moved = BatchSticks.objects.filter(batch__in=batches).order_by()
    by_size = moved.values_list("batch", "movement__lot__material__code", "movement__lot__length")
    return by_size.annotate(sum=Sum("movement__quantity"))


def lots_given_by(*, batch: HoopBatch) -> list[LotSticks]:
    """Lots that sticks can go back to."""
    return [row for row in sticks_by_lot(batch=batch) if row.sticks]


def lots_for(*, batch: HoopBatch) -> QuerySet[Lot]:
    """Lots on hand of the recipe's tube in its stick length, with their place."""
    recipe = batch.recipe
    rows = Lot.objects.of(batch.organisation).filter(material=recipe.tube_id, length=recipe.stick_length, on_hand__gt=0)
    # Of a member's lot only where leave is given.
    rows = rows.filter(Q(owner=None) | Exists(Leave.objects.standing().filter(lot=OuterRef("pk"))))
    if recipe.sticks > 1:
        rows = rows.filter(offcut=False)
    return rows.select_related("place").order_by("received_on", "reference")


def shares_of(*, batch: HoopBatch) -> QuerySet[BatchHouse]:
    return BatchHouse.objects.filter(batch=batch).select_related("house__site")


def bent_of(*, batch: HoopBatch) -> QuerySet[BentHoops]:
    return BentHoops.objects.filter(batch=batch).select_related("by").order_by("pk")


def spoilt_of(*, batch: HoopBatch) -> QuerySet[SpoiltSticks]:
    return SpoiltSticks.objects.filter(batch=batch).select_related("by", "trial").order_by("pk")


def with_shared(houses: QuerySet[House]) -> QuerySet[House]:
    """Houses with ``hoops_shared``, the hoops that batches make or made for them."""
    shared = BatchHouse.objects.filter(house=OuterRef("pk")).order_by().values("house")
    total = shared.annotate(total=Sum("hoops")).values("total")
    return houses.annotate(hoops_shared=Coalesce(Subquery(total, output_field=IntegerField()), 0))


@dataclass(frozen=True)
class AttemptsNeeded:
    """How many trial hoops batches of one tube on one bender took until one was accepted."""

    bender: str
    slug: str
    tube: str
    batches: int
    attempts: float


def attempts_needed(*, organisation: Organisation) -> list[AttemptsNeeded]:
    """Over proven batches, by bender and tube; one query."""
    rows: Iterable[dict[str, Any]] = (
        HoopBatch.objects.of(organisation)
        .exclude(accepted_trial=None)
        .order_by("bender__name", "recipe__tube__name")
        .values("bender__name", "bender__slug", "recipe__tube__name")
        .annotate(batches=Count("pk"), mean=Avg(F("accepted_trial__attempt")))
    )
    return [
        AttemptsNeeded(
            row["bender__name"], row["bender__slug"], row["recipe__tube__name"], row["batches"], float(row["mean"])
        )
        for row in rows
    ]
