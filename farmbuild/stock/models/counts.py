"""Stock counts: what was counted where, every entry of it, and the movement that put the books right.

A count that has ended is never changed, and an entry never; the database holds both (migration count_guards).
"""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy, pgettext_lazy

from farmbuild.catalogue.models import MAX_QUANTITY, Material
from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import OrgOwned
from farmbuild.stock.models.lots import Lot, Place
from farmbuild.stock.models.movements import Movement


def _who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


class StockCount(OrgOwned):
    """Counting some places. Open until it is posted or dropped."""

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        POSTED = "posted", gettext_lazy("Posted")
        DROPPED = "dropped", gettext_lazy("Cancelled")

    number = models.PositiveIntegerField(editable=False)
    state = models.CharField(max_length=7, choices=State, default=State.OPEN, editable=False)
    blind = models.BooleanField("leave out the stock record", default=False)
    look_again = models.DecimalField(
        "count again from a difference of",
        max_digits=14,
        decimal_places=2,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    started_at = models.DateTimeField(auto_now_add=True)
    started_by = _who()
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    ended_by = _who()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="count_number_once_an_organisation"),
            models.CheckConstraint(
                condition=Q(state="open", ended_at__isnull=True)
                | Q(state__in=["posted", "dropped"], ended_at__isnull=False),
                name="count_ends_at_a_time",
            ),
            models.CheckConstraint(condition=Q(look_again__gte=0), name="count_limit_not_negative"),
        ]

    def __str__(self) -> str:
        return gettext("Count %(number)s") % {"number": self.number}

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class CountPlace(models.Model):
    """A place that is counted. ``open`` goes with its count, so that nobody counts a place in two at once."""

    count = models.ForeignKey(StockCount, models.PROTECT, related_name="places")
    place = models.ForeignKey(Place, models.PROTECT, related_name="counts")
    open = models.BooleanField(default=True)

    class Meta:
        ordering = ["place__site__name", "place__name"]
        constraints = [
            models.UniqueConstraint(fields=["count", "place"], name="place_once_a_count"),
            models.UniqueConstraint(fields=["place"], condition=Q(open=True), name="place_in_one_open_count"),
        ]

    def __str__(self) -> str:
        return f"{self.place}, {self.count}"


class CountLine(models.Model):
    """A lot of a count with its last entry. ``place`` is where it lay when it came onto the sheet.

    ``expected`` is what the books said at the moment of the counting, which is the sum of the lot's movements up to
    the one with the key ``upto``. ``worth`` is the difference in money as posted.
    """

    count = models.ForeignKey(StockCount, models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="count_lines")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+")
    counted = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(MAX_QUANTITY)])
    expected = models.PositiveIntegerField(null=True, blank=True)
    upto = models.BigIntegerField(null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    counted_by = _who()
    times = models.PositiveIntegerField("times counted", default=0)
    again = models.BooleanField("to be counted again", default=False)
    movement = models.OneToOneField(Movement, models.PROTECT, null=True, blank=True, related_name="count_line")
    worth = models.DecimalField(max_digits=18, decimal_places=4, null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "lot"], name="lot_once_a_count"),
            models.CheckConstraint(
                condition=Q(counted__isnull=True, expected__isnull=True, upto__isnull=True, counted_at__isnull=True)
                | Q(counted__isnull=False, expected__isnull=False, upto__isnull=False, counted_at__isnull=False),
                name="count_line_is_counted_whole",
            ),
            models.CheckConstraint(
                condition=Q(movement__isnull=True) | Q(counted__isnull=False), name="count_line_posted_was_counted"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}, {self.count}"


class CountEntry(models.Model):
    """One time that someone wrote down how many there are. The last one stands; all are kept."""

    class Source(models.TextChoices):
        PAGE = "page", pgettext_lazy("how pieces were counted", "typed")
        FILE = "file", gettext_lazy("from a file")

    line = models.ForeignKey(CountLine, models.PROTECT, related_name="entries")
    counted = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_QUANTITY)])
    expected = models.PositiveIntegerField()
    upto = models.BigIntegerField()
    counted_at = models.DateTimeField()
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    source = models.CharField(max_length=4, choices=Source, default=Source.PAGE)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.counted} of {self.line}"


class CountFind(models.Model):
    """Pieces that lie there and are not in the stock record. ``lot`` is the one they became."""

    count = models.ForeignKey(StockCount, models.PROTECT, related_name="finds")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+")
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    length = LengthField("length of one piece", null=True, blank=True, help_text="Leave empty for counted things.")
    offcut = models.BooleanField("offcut: no swaged end left", default=False)
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])
    unit_cost = models.DecimalField(
        "cost of one piece",
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    taken_back = models.BooleanField("written down by mistake", default=False)
    lot = models.OneToOneField(Lot, models.PROTECT, null=True, blank=True, related_name="found_by")

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0, unit_cost__gte=0), name="count_find_is_something"),
            models.CheckConstraint(
                condition=Q(length__isnull=True) | Q(length__gt=0), name="count_find_length_positive"
            ),
            models.CheckConstraint(
                condition=Q(taken_back=False) | Q(lot__isnull=True), name="count_find_taken_back_is_no_lot"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.material}, {self.count}"


class CountDraft(OrgOwned):
    """A filled-in sheet that one person sent and has not confirmed yet. Nothing of it is entered."""

    count = models.ForeignKey(StockCount, models.CASCADE, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    filename = models.CharField(max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    rows = models.JSONField()
    bad_rows = models.PositiveIntegerField()

    def __str__(self) -> str:
        return self.filename
