"""Photos of what went wrong, and how it was put right."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.urls import reverse

from farmbuild.crew.models.actuals import Actual
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet

#: Photos of one problem.
MAX_PHOTOS = 4


class PhotoManager(models.Manager.from_queryset(OrgOwnedQuerySet)):
    """Rows without their bytes: a list of photos must not read the photos."""

    def get_queryset(self) -> OrgOwnedQuerySet:
        return super().get_queryset().defer("data", "thumbnail")


class ProblemPhoto(OrgOwned):
    """A photo with a problem, as re-encoded JPEG. Never edited; taken away, its bytes go and the fact stays."""

    actual = models.ForeignKey(Actual, models.PROTECT, related_name="photos")
    position = models.PositiveSmallIntegerField()
    data = models.BinaryField(null=True)
    thumbnail = models.BinaryField(null=True)
    #: Of ``data``, in hexadecimal (FIPS 180-4).
    sha256 = models.CharField(max_length=64, editable=False)
    width = models.PositiveIntegerField("width in pixels")
    height = models.PositiveIntegerField("height in pixels")
    #: Of one added later; else it came with the problem, from whoever recorded that.
    added_at = models.DateTimeField(null=True, blank=True, editable=False)
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
        ordering = ["actual", "position"]
        constraints = [
            models.UniqueConstraint(fields=["actual", "position"], name="photo_once_an_actual_and_position"),
            models.CheckConstraint(
                condition=Q(position__gte=1, position__lte=MAX_PHOTOS), name="photo_position_in_range"
            ),
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="photo_has_a_checksum"),
            models.CheckConstraint(condition=Q(width__gte=1, height__gte=1), name="photo_has_a_size"),
            models.CheckConstraint(
                condition=Q(added_at__isnull=True, added_by__isnull=True)
                | Q(added_at__isnull=False, added_by__isnull=False),
                name="photo_added_by_somebody_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True, removed_reason="", data__isnull=False, thumbnail__isnull=False)
                | (Q(removed_at__isnull=False, data__isnull=True, thumbnail__isnull=True) & ~Q(removed_reason="")),
                name="photo_there_or_taken_away",
            ),
        ]

    def __str__(self) -> str:
        return f"Photo {self.position} of problem {self.actual_id}"

    def get_absolute_url(self) -> str:
        return reverse("crew:photo", args=[self.pk])


class ProblemSettled(OrgOwned):
    """That a problem is put right, and how. Never edited."""

    actual = models.OneToOneField(Actual, models.PROTECT, related_name="settled")
    how = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(how=""), name="problem_settled_says_how")]

    def __str__(self) -> str:
        return self.how
