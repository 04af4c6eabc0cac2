"""Stages of a job, and the bills that went out for them."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy

from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.changes import ChangeOrder
from farmbuild.quotes.models.columns import checksum, money, percent, who
from farmbuild.quotes.models.jobs import Job
from farmbuild.quotes.models.sending import FileManager

_UNDER_100 = MaxValueValidator(Decimal("99.999"), gettext_lazy("What is kept back is less than 100 percent."))


class Stage(OrgOwned):
    """A part of a job that is billed when it is reached; the percents of a job make 100."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="stages")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    percent = models.DecimalField(max_digits=6, decimal_places=3)

    class Meta:
        ordering = ["job", "position"]
        constraints = [
            models.UniqueConstraint(fields=["job", "position"], name="stage_position_once_a_job"),
            models.CheckConstraint(condition=Q(percent__gt=0, percent__lte=100), name="stage_is_a_part_of_the_job"),
        ]

    def __str__(self) -> str:
        return self.name


class BillTerms(OrgOwned):
    """How a job is billed. ``kept_percent`` of each bill is kept back until the last one, by the customer's wish."""

    job = models.OneToOneField(Job, models.CASCADE, primary_key=True, related_name="bill_terms")
    kept_percent = percent(gettext_lazy("kept back until the end, percent"), most=[_UNDER_100])
    pay_days = models.PositiveSmallIntegerField(
        gettext_lazy("days to pay in"),
        default=30,
        validators=[MaxValueValidator(366, gettext_lazy("Type 366 days or fewer."))],
    )

    class Meta:
        verbose_name_plural = "bill terms"
        constraints = [
            models.CheckConstraint(condition=Q(kept_percent__gte=0, kept_percent__lt=100), name="kept_back_is_a_part"),
        ]

    def __str__(self) -> str:
        return f"Terms of {self.job.reference}"


class Bill(OrgOwned):
    """What a customer is asked to pay, before tax in ``billed``. Never changed (migration guards); a wrong one is
    taken back by another that ``reverses`` it, with amounts below 0.

    ``number`` counts from 1 in each organisation and is written B-0001. ``kept``: retention, paid at the end.
    """

    number = models.PositiveIntegerField(editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="bills")
    #: Each None of a bill of another thing: what was kept back, or a change order.
    stage = models.ForeignKey(Stage, models.PROTECT, null=True, blank=True, related_name="bills")
    change = models.ForeignKey(ChangeOrder, models.PROTECT, null=True, blank=True, related_name="bills")
    what = models.CharField(max_length=240)
    currency = models.CharField(max_length=3)
    day = models.DateField(gettext_lazy("of the day"))
    due_on = models.DateField(gettext_lazy("to be paid by"))
    billed = money(gettext_lazy("billed, before tax"))
    kept = money(gettext_lazy("kept back"))
    tax = money("tax")
    due = money("due")
    #: All that it shows.
    shown = models.JSONField()
    pdf = models.BinaryField()
    workbook = models.BinaryField()
    sha256 = checksum()
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    reason = models.CharField(max_length=200, blank=True)

    objects = FileManager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="bill_number_once_an_organisation"),
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="bill_has_a_checksum"),
            models.CheckConstraint(condition=Q(reverses__isnull=True) | ~Q(reason=""), name="bill_taken_back_says_why"),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def reference(self) -> str:
        return f"B-{self.number:04}"
