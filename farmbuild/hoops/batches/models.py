"""Hoop batches. No hoop past the first, and no stick past the trial's, before a trial hoop is accepted."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure.usual import SPRING_IN, TRIAL_TOLERANCE
from farmbuild.orgs.models import OrgOwned


class HoopBatch(OrgOwned):
    """So many hoops of a recipe, on one bender.

    ``sticks_issued``, ``sticks_spoilt``, ``attempts`` and ``hoops_bent`` are sums over the rows below. Triggers of the
    database keep them (migration guards), so the constraints here are the gate whoever writes.
    """

    class State(models.TextChoices):
        TRIAL = "trial", _("Trial")
        PROVEN = "proven", _("Proven")
        BENDING = "bending", _("Bending")
        DONE = "done", _("Done")

    number = models.PositiveIntegerField(editable=False)
    recipe = models.ForeignKey(Recipe, models.PROTECT, related_name="batches")
    bender = models.ForeignKey(Bender, models.PROTECT, related_name="batches")
    quantity = models.PositiveIntegerField(
        _("hoops to make"), validators=[MinValueValidator(1), MaxValueValidator(10_000)]
    )
    houses = models.ManyToManyField("sites.House", through="BatchHouse", related_name="hoop_batches")
    post_span = LengthField(_("post span"), help_text=_("Between ground posts, centre to centre."))
    spring_in = LengthField(
        _("spring-in wanted"),
        small=True,
        usual=SPRING_IN,
        help_text=_("How much wider than the posts the free hoop stands."),
    )
    span_tolerance = LengthField(_("span may be off by"), small=True, usual=TRIAL_TOLERANCE)
    rise_tolerance = LengthField(_("rise may be off by"), small=True, usual=TRIAL_TOLERANCE)
    twist_tolerance = LengthField(_("twist may be up to"), small=True, usual=TRIAL_TOLERANCE)
    #: What one hoop takes; copied from the recipe, so that the gate can be a constraint on one row.
    sticks_a_hoop = models.PositiveSmallIntegerField(editable=False)
    #: As corrected by the trial hoops; starts as the recipe's.
    stop_gap = LengthField(_("stop gap"), small=True, editable=False)
    #: Its hoop is what its pulls make. False for batches begun before pulls were counted one by one: they keep every
    #: mark and a pipe bent from end to end, so that their hoops stay alike and their trial hoops are judged as before.
    by_pulls = models.BooleanField(default=True, editable=False)
    state = models.CharField(max_length=8, choices=State, default=State.TRIAL, editable=False)
    accepted_trial = models.OneToOneField(
        "TrialHoop", models.PROTECT, null=True, blank=True, related_name="accepted_for", editable=False
    )
    attempts = models.PositiveIntegerField(default=0, editable=False)
    sticks_issued = models.PositiveIntegerField(default=0, editable=False)
    sticks_spoilt = models.PositiveIntegerField(default=0, editable=False)
    hoops_bent = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False
    )

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="batch_number_once_an_organisation"),
            # The trial hoop is the first; it counts once it is accepted.
            models.CheckConstraint(
                condition=Q(accepted_trial__isnull=False) | Q(hoops_bent=0), name="batch_gate_on_hoops"
            ),
            # Before that, sticks for one hoop, and one more for each that was spoilt.
            models.CheckConstraint(
                condition=Q(accepted_trial__isnull=False)
                | Q(sticks_issued__lte=F("sticks_a_hoop") + F("sticks_spoilt")),
                name="batch_gate_on_sticks",
            ),
            models.CheckConstraint(
                condition=Q(sticks_issued__gte=F("sticks_a_hoop") * F("hoops_bent") + F("sticks_spoilt")),
                name="batch_bends_sticks_it_has",
            ),
            models.CheckConstraint(
                condition=Q(state="trial", accepted_trial__isnull=True)
                | (~Q(state="trial") & Q(accepted_trial__isnull=False)),
                name="batch_proven_by_a_trial",
            ),
            models.CheckConstraint(condition=Q(hoops_bent__lte=F("quantity")), name="batch_no_more_hoops_than_wanted"),
            models.CheckConstraint(condition=Q(quantity__gte=1, sticks_a_hoop__gte=1), name="batch_makes_something"),
        ]

    def __str__(self) -> str:
        return gettext("Batch %(number)s") % {"number": self.number}

    @property
    def hoops_left(self) -> int:
        return self.quantity - self.hoops_bent

    @property
    def next_attempt(self) -> int:
        return self.attempts + 1

    @property
    def trial_sticks_missing(self) -> int:
        """Sticks that the trial hoop takes and has not; spoilt ones are replaced."""
        return self.sticks_a_hoop + self.sticks_spoilt - self.sticks_issued

    def get_absolute_url(self) -> str:
        return reverse("hoops:batch", args=[self.number])


class BatchHouse(models.Model):
    """Which house gets how many hoops of a batch."""

    batch = models.ForeignKey(HoopBatch, models.CASCADE, related_name="shares")
    house = models.ForeignKey("sites.House", models.PROTECT, related_name="hoop_shares")
    hoops = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["batch", "house"], name="batch_house_once")]

    def __str__(self) -> str:
        return f"{self.hoops} for {self.house}"


class TrialHoop(models.Model):
    """One attempt at the first hoop, as measured. Never edited; its verdict follows the tolerance of the batch until
    a trial hoop is accepted."""

    batch = models.ForeignKey(HoopBatch, models.PROTECT, related_name="trials")
    attempt = models.PositiveIntegerField(editable=False)
    free_span = LengthField(_("free span"), help_text=_("Between the hoop's ends, standing free, centre to centre."))
    rise = LengthField("rise", help_text=_("From the line through the ends to the centre of the crown."))
    last_gap = LengthField(_("measured stop gap"), small=True, null=True, blank=True)
    twist = LengthField(
        _("twist out of plane"),
        small=True,
        null=True,
        blank=True,
        help_text=_("How far one end lifts, the rest lying flat."),
    )
    #: As they were when it was bent and judged.
    stop_gap = LengthField(small=True, editable=False)
    target_span = LengthField(editable=False)
    verdict = models.CharField(max_length=12, editable=False)
    effective_radius = LengthField(small=True, editable=False)
    #: Sticks of it that no trial hoop before was bent of; the others are those of the trial hoop before, opened and
    #: pulled again. None where it was measured before this was asked.
    fresh_sticks = models.PositiveSmallIntegerField(null=True, editable=False)
    accepted = models.BooleanField(default=False, editable=False)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False
    )
    #: Why it is good though it is off by more than the tolerance; empty where it is within.
    accept_reason = models.CharField(max_length=200, blank=True, default="", editable=False)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["batch", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "attempt"], name="trial_attempt_once"),
            models.UniqueConstraint(fields=["batch"], condition=Q(accepted=True), name="one_accepted_trial_a_batch"),
            models.CheckConstraint(condition=Q(free_span__gt=0, rise__gt=0), name="trial_measures_positive"),
            models.CheckConstraint(
                condition=Q(accepted=False) | Q(verdict="accepted") | ~Q(accept_reason=""),
                name="trial_accepted_within_tolerance_or_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"Trial {self.attempt} of {self.batch}"

    @property
    def accepted_outside(self) -> bool:
        """Accepted for a reason, though it is off by more than the tolerance."""
        return self.accepted and self.verdict != "accepted"


class BatchSticks(models.Model):
    """Sticks that a stock movement gave to a batch, or took back."""

    batch = models.ForeignKey(HoopBatch, models.PROTECT, related_name="sticks")
    movement = models.OneToOneField("stock.Movement", models.PROTECT, related_name="batch_sticks")

    def __str__(self) -> str:
        return f"{self.movement} for {self.batch}"


class BentHoops(models.Model):
    """Hoops recorded as bent, one entry a time someone says so; below zero where some are taken back."""

    batch = models.ForeignKey(HoopBatch, models.PROTECT, related_name="bent")
    hoops = models.IntegerField()
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(hoops=0), name="bent_hoops_some")]

    def __str__(self) -> str:
        return f"{self.hoops} of {self.batch}"


class SpoiltSticks(models.Model):
    """Issued sticks that are scrap now, and why; ``trial`` when a trial hoop was made of them. Never edited."""

    batch = models.ForeignKey(HoopBatch, models.PROTECT, related_name="spoilt")
    trial = models.ForeignKey(TrialHoop, models.PROTECT, null=True, blank=True, related_name="spoilt")
    sticks = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    reason = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(sticks__gte=1), name="spoilt_sticks_at_least_one"),
            models.CheckConstraint(condition=~Q(reason=""), name="spoilt_sticks_say_why"),
        ]

    def __str__(self) -> str:
        return f"{self.sticks} of {self.batch}"
