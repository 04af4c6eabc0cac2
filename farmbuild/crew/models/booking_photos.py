"""Photos of a bender as it comes back."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from farmbuild.crew.models.bookings import BenderBooking
from farmbuild.crew.models.problems import MAX_PHOTOS, PhotoManager
from farmbuild.orgs.models import OrgOwned


class BookingPhoto(OrgOwned):
    """A photo of a bender that came back, as re-encoded JPEG. Taken away, its bytes go and the fact stays."""

    booking = models.ForeignKey(BenderBooking, models.PROTECT, related_name="photos")
    position = models.PositiveSmallIntegerField()
    data = models.BinaryField(null=True)
    thumbnail = models.BinaryField(null=True)
    #: Of ``data``, in hexadecimal (FIPS 180-4).
    sha256 = models.CharField(max_length=64, editable=False)
    width = models.PositiveIntegerField("width in pixels")
    height = models.PositiveIntegerField("height in pixels")
    added_at = models.DateTimeField(auto_now_add=True)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    removed_reason = models.CharField(max_length=200, blank=True)

    objects = PhotoManager()

    class Meta:
        ordering = ["booking", "position"]
        constraints = [
            models.UniqueConstraint(fields=["booking", "position"], name="booking_photo_once_a_position"),
            models.CheckConstraint(
                condition=Q(position__gte=1, position__lte=MAX_PHOTOS), name="booking_photo_position_in_range"
            ),
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="booking_photo_has_a_checksum"),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True, removed_reason="", data__isnull=False, thumbnail__isnull=False)
                | (Q(removed_at__isnull=False, data__isnull=True, thumbnail__isnull=True) & ~Q(removed_reason="")),
                name="booking_photo_there_or_taken_away",
            ),
        ]

    def __str__(self) -> str:
        return f"Photo {self.position} of {self.booking_id}"
