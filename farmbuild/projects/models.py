"""A project workbook between its reading and its confirmation."""

from django.conf import settings
from django.db import models

from farmbuild.orgs.models import OrgOwned


class ProjectDraft(OrgOwned):
    """A workbook that one person sent and has not confirmed yet. Nothing of it is stored.

    ``shown``: what it would do, as the page said it; ``digest`` of all of that, so that nothing else is done.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    filename = models.CharField(max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    data = models.BinaryField()
    digest = models.CharField(max_length=64)
    shown = models.JSONField()

    def __str__(self) -> str:
        return self.filename
