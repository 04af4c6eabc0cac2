"""Season plans: a stored snapshot of what was asked and what came out, never rewritten."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.long_work import LongSearch
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import OrgOwned
from farmbuild.plans.snapshots.bridge import Season, SeasonPlan, season_of, season_plan_of
from farmbuild.sites.models import House, Site


class Plan(OrgOwned, LongSearch):
    number = models.PositiveIntegerField(editable=False)
    name = models.CharField(max_length=120)
    as_of = models.DateField("worked out as of")
    delivery_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    houses = models.ManyToManyField(House, related_name="plans", through="PlanHouse")
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    #: It may take what cooperatives have opened to the organisation, before it buys.
    from_common = models.BooleanField("takes from common stock", default=False, editable=False)
    #: Canonical JSON of planning.inputs.Season and of planning.results.SeasonPlan.
    inputs = models.JSONField(editable=False)
    inputs_digest = models.CharField(max_length=64, editable=False)
    result = models.JSONField(null=True, editable=False)
    result_digest = models.CharField(max_length=64, blank=True, editable=False)
    #: Of the orders in ``result``, so that lists need not read it.
    order_count = models.PositiveIntegerField(null=True, editable=False)
    order_total = models.DecimalField(max_digits=16, decimal_places=3, null=True, editable=False)
    first_order_by = models.DateField(null=True, editable=False)
    #: From then on its houses hold what it uses, until it is released; ``stock.Reservation`` says what.
    accepted_at = models.DateTimeField(null=True, blank=True, editable=False)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    released_at = models.DateTimeField(null=True, blank=True, editable=False)
    #: Its houses as they might be, not as they are: ``field``, slugs of ``houses``, ``old`` and ``new`` in mm as text.
    tried = models.JSONField(null=True, editable=False)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="plan_number_once_an_organisation"),
            models.CheckConstraint(condition=~Q(state="ready") | Q(result__isnull=False), name="plan_ready_has_result"),
            models.CheckConstraint(condition=~Q(state="failed") | ~Q(problem=""), name="plan_stopped_says_why"),
            models.CheckConstraint(
                condition=Q(state="working", heard_from_at__isnull=False) & ~Q(worker="")
                | ~Q(state="working") & Q(worker=""),
                name="plan_worked_out_by_one",
            ),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | Q(state="ready"), name="plan_accepted_is_worked_out"
            ),
            models.CheckConstraint(
                condition=Q(released_at__isnull=True) | Q(accepted_at__isnull=False), name="plan_released_was_accepted"
            ),
        ]

    def __str__(self) -> str:
        return f"Plan {self.number}: {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("plans:plan", args=[self.number])

    def snapshot(self) -> tuple[Season, SeasonPlan]:
        """What a ready plan was asked, and what came out; orders, which stand below plans, ask their plan for it."""
        return season_of(self), season_plan_of(self)

    @property
    def is_accepted(self) -> bool:
        """Accepted, and not released since."""
        return self.accepted_at is not None and self.released_at is None


class PlanHouse(models.Model):
    """A house in a plan. It holds the house: what a plan was made for is archived, not deleted.

    ``accepted``: the house is built by this plan, and by no other.
    """

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="+")
    house = models.ForeignKey(House, models.PROTECT, related_name="+")
    accepted = models.BooleanField(default=False, editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "house"], name="house_once_a_plan"),
            models.UniqueConstraint(fields=["house"], condition=Q(accepted=True), name="house_in_one_accepted_plan"),
        ]

    def __str__(self) -> str:
        return f"{self.house} in {self.plan}"


class PlanSavings(OrgOwned, LongSearch):
    """Small changes of houses that would save material, looked for once: what the plan was asked never changes."""

    plan = models.OneToOneField(Plan, models.CASCADE, related_name="savings", editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False
    )
    #: What ``planning.advice`` found, the most first; lengths and money as text.
    found = models.JSONField(null=True, editable=False)
    #: What another way of buying saves or costs, packed as ``found``; None: not looked for.
    buying = models.JSONField(null=True, editable=False)

    class Meta:
        verbose_name = "search for savings"
        verbose_name_plural = "searches for savings"
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(found__isnull=False), name="savings_ready_has_found"
            ),
            models.CheckConstraint(condition=~Q(state="failed") | ~Q(problem=""), name="savings_stopped_says_why"),
            models.CheckConstraint(
                condition=Q(state="working", heard_from_at__isnull=False) & ~Q(worker="")
                | ~Q(state="working") & Q(worker=""),
                name="savings_looked_for_by_one",
            ),
        ]

    @property
    def all_rows(self) -> list[dict[str, Any]]:
        """Small changes and, behind them, other ways to buy: a row's place here is what it is tried by."""
        return [*(self.found or []), *(self.buying or [])]

    def __str__(self) -> str:
        return f"Savings of plan {self.plan_id}"


class PlanFromYard(OrgOwned, LongSearch):
    """Which houses of a plan can be built from what lies in the yard, once a plan and way of choosing."""

    class By(models.TextChoices):
        DAY = "day", gettext_lazy("Most houses")
        VALUE = "value", gettext_lazy("Most value")

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="from_yard", editable=False)
    by = models.CharField(max_length=5, choices=By, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False
    )
    #: From when on, and by whom houses could be built, and what they hold, as it was when it was asked for; no keys.
    starts_at = models.DateTimeField(editable=False)
    asked = models.JSONField(editable=False)
    #: What ``planning.advice`` found; money as text. None: not worked out.
    found = models.JSONField(null=True, editable=False)

    class Meta:
        verbose_name = "search of the yard"
        verbose_name_plural = "searches of the yard"
        constraints = [
            models.UniqueConstraint(fields=["plan", "by"], name="from_yard_once_a_plan_and_way"),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(found__isnull=False), name="from_yard_ready_has_found"
            ),
            models.CheckConstraint(condition=~Q(state="failed") | ~Q(problem=""), name="from_yard_stopped_says_why"),
            models.CheckConstraint(
                condition=Q(state="working", heard_from_at__isnull=False) & ~Q(worker="")
                | ~Q(state="working") & Q(worker=""),
                name="from_yard_worked_out_by_one",
            ),
        ]

    def __str__(self) -> str:
        return f"What the yard gives of plan {self.plan_id}"
