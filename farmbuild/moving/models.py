"""Exports that an owner asked for: the file stands in pieces, so that nobody holds all of it at once."""

from django.conf import settings
from django.db import models

from farmbuild.common.long_work import LongWork
from farmbuild.orgs.models import OrgOwned


class Export(LongWork, OrgOwned):
    """A file with all of an organisation, made once and kept until ``ends_at``."""

    WAITS_SINCE = ("heard_from_at", "made_at")

    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    #: When it was ready, and until when it can be downloaded.
    ready_at = models.DateTimeField(null=True, editable=False)
    ends_at = models.DateTimeField(null=True, editable=False)
    size = models.PositiveBigIntegerField(default=0, editable=False)
    sha256 = models.CharField(max_length=64, blank=True, editable=False)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"Export of {self.organisation}, {self.made_at:%Y-%m-%d %H:%M}"


class ExportPart(models.Model):
    """A piece of the file."""

    export = models.ForeignKey(Export, models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField()
    data = models.BinaryField()

    class Meta:
        ordering = ["export", "number"]
        constraints = [models.UniqueConstraint(fields=["export", "number"], name="export_part_once")]

    def __str__(self) -> str:
        return f"Piece {self.number} of {self.export_id}"
