"""What rates and what is charged by them have in common."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet

_RATE = {"max_digits": 15, "decimal_places": 4}
_RATES = [MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1_000_000_000))]


def rate_field(label: str, **more: object) -> models.DecimalField:
    """A price for one, in the organisation's currency, to four places."""
    return models.DecimalField(label, **_RATE, validators=_RATES, **more)


class RateSince(OrgOwned):
    """A price that holds from a day on, until the next of the same thing."""

    since = models.DateField("from this day on")

    class Meta:
        abstract = True


class PostedQuerySet(OrgOwnedQuerySet):
    def net(self) -> "PostedQuerySet":
        """Without what was taken back, and without the rows that took it back."""
        return self.filter(reverses=None, reversed_by=None)


class Posted(OrgOwned):
    """A cost as it was charged. Never edited; taken back once, by a row that names it with what it had the other way.

    ``rate`` is that of its day, and ``amount`` in whole coins: neither follows a price that changes later.
    """

    day = models.DateField()
    rate = rate_field("price for one")
    amount = models.DecimalField(max_digits=15, decimal_places=3)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by", editable=False
    )
    reason = models.CharField("why it is taken back", max_length=200, blank=True)

    objects = PostedQuerySet.as_manager()

    class Meta:
        abstract = True


def says_why(name: str) -> models.CheckConstraint:
    """What takes back says why, and nothing else does."""
    return models.CheckConstraint(
        condition=Q(reverses__isnull=True, reason="") | (Q(reverses__isnull=False) & ~Q(reason="")), name=name
    )


def has_its_sign(name: str, quantity: str) -> models.CheckConstraint:
    """What is charged is not negative, and what takes it back not positive. ``quantity``: a column of the same sign."""
    charged = Q(reverses__isnull=True, amount__gte=0, rate__gte=0, **{f"{quantity}__gt": 0})
    back = Q(reverses__isnull=False, amount__lte=0, rate__gte=0, **{f"{quantity}__lt": 0})
    return models.CheckConstraint(condition=charged | back, name=name)


def of_one_thing(name: str, *, or_none: bool = False) -> models.CheckConstraint:
    """Of a house, or of a job as a whole; ``or_none``: else a general expense."""
    condition = Q(house__isnull=False, job__isnull=True) | Q(house__isnull=True, job__isnull=False)
    return models.CheckConstraint(
        condition=condition | Q(house__isnull=True, job__isnull=True) if or_none else condition, name=name
    )
