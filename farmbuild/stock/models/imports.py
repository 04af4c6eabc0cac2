"""A stock file between its reading and its confirmation."""

from django.conf import settings
from django.db import models

from farmbuild.orgs.models import OrgOwned


class ImportDraft(OrgOwned):
    """A file that one person sent and has not confirmed yet. Nothing of it is in stock."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    filename = models.CharField(max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    rows = models.PositiveIntegerField()
    bad_rows = models.PositiveIntegerField()

    def __str__(self) -> str:
        return self.filename


class ImportPart(models.Model):
    """Some rows of a draft as understood, one page of the preview.

    ``bad``: those to look at first stand in parts of their own too, the bad ones, or else those that are asked about.
    """

    draft = models.ForeignKey(ImportDraft, models.CASCADE, related_name="parts")
    bad = models.BooleanField()
    number = models.PositiveIntegerField()
    rows = models.JSONField()

    class Meta:
        ordering = ["bad", "number"]
        constraints = [models.UniqueConstraint(fields=["draft", "bad", "number"], name="import_part_once_a_draft")]

    def __str__(self) -> str:
        return f"{self.draft}, part {self.number}"
