"""Benders lent and booked."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.models import Material
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import count_noun
from farmbuild.orgs.models import OrgOwned


class Member(OrgOwned):
    """A farm that borrows benders of the organisation."""

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    contact = models.CharField(max_length=200, blank=True)
    share = models.PositiveSmallIntegerField(
        "shares", default=1, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="member_slug_once_an_organisation"),
            models.CheckConstraint(condition=Q(share__gte=1), name="member_has_a_share_or_more"),
        ]

    def __str__(self) -> str:
        return self.name


class BenderRequest(OrgOwned):
    """A member asks for a bender for so many days, between two dates."""

    class State(models.TextChoices):
        ASKED = "asked", _("Asked")
        GIVEN = "given", _("Booked")
        WITHDRAWN = "withdrawn", _("Withdrawn")
        DECLINED = "declined", _("Declined")

    member = models.ForeignKey(Member, models.PROTECT, related_name="requests")
    bender = models.ForeignKey(Bender, models.PROTECT, null=True, blank=True, related_name="requests")
    tube = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    days = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(366)])
    earliest = models.DateField()
    need_by = models.DateField(_("needed back by, at the latest"))
    note = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=9, choices=State, default=State.ASKED, editable=False)
    declined_because = models.CharField(max_length=200, blank=True, editable=False)
    asked_at = models.DateTimeField(auto_now_add=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    class Meta:
        ordering = ["need_by", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(earliest__lte=F("need_by")), name="request_ends_after_it_starts"),
            models.CheckConstraint(condition=Q(days__gte=1), name="request_of_a_day_or_more"),
            models.CheckConstraint(
                condition=~Q(state="declined") | ~Q(declined_because=""), name="request_declined_with_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member} asks for {count_noun(self.days, 'day')}"


class BenderBooking(OrgOwned):
    """A bender is kept from ``first`` to ``last``, both days included. No two of a bender overlap (migration)."""

    class State(models.TextChoices):
        BOOKED = "booked", _("Booked")
        OUT = "out", _("Out")
        BACK = "back", _("Back")
        CANCELLED = "cancelled", _("Cancelled")

    bender = models.ForeignKey(Bender, models.PROTECT, related_name="bookings")
    member = models.ForeignKey(Member, models.PROTECT, null=True, blank=True, related_name="bookings")
    request = models.OneToOneField(BenderRequest, models.SET_NULL, null=True, blank=True, related_name="booking")
    first = models.DateField()
    last = models.DateField()
    state = models.CharField(max_length=9, choices=State, default=State.BOOKED, editable=False)
    out_at = models.DateTimeField(null=True, blank=True, editable=False)
    out_condition = models.CharField(max_length=200, blank=True)
    back_at = models.DateTimeField(null=True, blank=True, editable=False)
    back_condition = models.CharField(max_length=200, blank=True)
    #: As whoever brought it back told; None: nobody did.
    pulls = models.PositiveIntegerField(
        _("pulls made"), null=True, blank=True, validators=[MaxValueValidator(1_000_000)]
    )
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["first", "pk"]
        indexes = [
            models.Index(fields=["organisation", "last"], name="booking_by_last_day"),
            models.Index(fields=["bender", "last"], name="booking_by_bender_and_last"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(first__lte=F("last")), name="booking_ends_after_it_starts"),
            models.UniqueConstraint(fields=["bender"], condition=Q(state="out"), name="bender_out_once"),
        ]

    def __str__(self) -> str:
        first, last = (f"{day.day} {day:%B %Y}" for day in (self.first, self.last))
        return f"{self.bender}, {first}" if first == last else f"{self.bender}, {first} to {last}"


class BookingMove(OrgOwned):
    """Other days, or another bender, for one booking: what it was, what it became, who did it and when."""

    booking = models.ForeignKey(BenderBooking, models.CASCADE, related_name="moves")
    from_bender = models.ForeignKey(Bender, models.PROTECT, related_name="+")
    from_first = models.DateField()
    from_last = models.DateField()
    to_bender = models.ForeignKey(Bender, models.PROTECT, related_name="+")
    to_first = models.DateField()
    to_last = models.DateField()
    moved_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    moved_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(from_first__lte=F("from_last"), to_first__lte=F("to_last")),
                name="move_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=~Q(from_bender=F("to_bender"), from_first=F("to_first"), from_last=F("to_last")),
                name="move_changes_something",
            ),
        ]

    def __str__(self) -> str:
        return f"Move of {self.booking}"


class MemberSignIn(OrgOwned):
    """Someone of a member who signs in and sees what is that member's, and nothing else."""

    member = models.ForeignKey(Member, models.PROTECT, related_name="sign_ins")
    user = models.OneToOneField(settings.AUTH_USER_MODEL, models.PROTECT, related_name="member_sign_in")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    shut_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.user} of {self.member}"

    def get_absolute_url(self) -> str:
        return reverse("crew:member-sign-in", args=[self.member.slug, self.pk])
