"""What members pay for benders: prices from a day on, how each charge came about, and damage."""

from __future__ import annotations

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from farmbuild.coop.models.entries import MemberEntry
from farmbuild.costs.models.posted import RateSince, rate_field
from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.columns import moment, money, who


class ChargeRate(RateSince):
    """What a member pays for one: of a bender, else of every bender that has none of its own."""

    class Kind(models.TextChoices):
        DAY = "day", _("A day out")
        PULL = "pull", _("A pull")
        LATE_DAY = "late-day", _("A day late")
        LATE = "late", _("A late return, once")

    kind = models.CharField("for", max_length=8, choices=Kind)
    bender = models.ForeignKey(Bender, models.PROTECT, null=True, blank=True, related_name="charge_rates")
    each = rate_field("price")

    class Meta:
        ordering = ["kind", "bender__name", "-since"]
        constraints = [
            models.CheckConstraint(condition=Q(each__gte=0), name="charge_rate_not_negative"),
            models.UniqueConstraint(fields=["bender", "kind", "since"], name="charge_rate_of_a_bender_once_a_day"),
            models.UniqueConstraint(
                fields=["organisation", "kind", "since"],
                condition=Q(bender__isnull=True),
                name="charge_rate_of_all_once_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.bender or 'every bender'}"


class FreeDays(RateSince):
    """Days of any bender that a member has for nothing in a season, for each share."""

    days = models.PositiveSmallIntegerField(_("free days a share and season"), validators=[MaxValueValidator(366)])

    class Meta:
        ordering = ["-since"]
        verbose_name_plural = "free days"
        constraints = [
            models.UniqueConstraint(fields=["organisation", "since"], name="free_days_once_a_day"),
            models.CheckConstraint(condition=Q(days__lte=366), name="free_days_of_a_year"),
        ]

    def __str__(self) -> str:
        return f"{self.days} a share"


class BookingCharge(OrgOwned):
    """How an entry of a booking came about. Never edited (guards); taken back with its entry.

    ``lines``: list of {"first", "last", "count", "free", "each", "once"}, ``each`` a decimal as text; the amount of
    the entry is the sum of ``count`` less ``free`` at ``each``, each line rounded to coins.
    """

    entry = models.OneToOneField(MemberEntry, models.PROTECT, related_name="charge")
    booking = models.ForeignKey(BenderBooking, models.PROTECT, related_name="charges")
    lines = models.JSONField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"Charge of {self.booking}"


class Damage(OrgOwned):
    """A bender came back damaged, and what the member is asked for it. ``amount`` is never edited (guards)."""

    class State(models.TextChoices):
        ASKED = "asked", _("Asked for")
        DISPUTED = "disputed", _("Disputed")
        STANDS = "stands", _("Stands")
        WITHDRAWN = "withdrawn", _("Withdrawn")

    booking = models.ForeignKey(BenderBooking, models.PROTECT, related_name="damages")
    entry = models.OneToOneField(MemberEntry, models.PROTECT, related_name="damage")
    what = models.CharField(_("what is damaged"), max_length=200)
    amount = money("amount")
    state = models.CharField(max_length=9, choices=State, default=State.ASKED, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()
    disputed_why = models.CharField(_("why it is disputed"), max_length=400, blank=True)
    disputed_at = moment()
    disputed_by = who()
    answer = models.CharField(max_length=400, blank=True)
    answered_at = moment()
    answered_by = who()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="damage_of_some_money"),
            models.CheckConstraint(condition=~Q(what=""), name="damage_says_what"),
            models.CheckConstraint(
                condition=~Q(state="disputed") | ~Q(disputed_why=""), name="damage_disputed_with_why"
            ),
            models.CheckConstraint(
                condition=Q(state__in=("asked", "disputed")) | ~Q(answer=""), name="damage_answered_in_words"
            ),
        ]

    def __str__(self) -> str:
        return f"Damage of {self.booking.bender}: {self.what}"
