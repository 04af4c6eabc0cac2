"""What went out to a customer, the links to it, and that somebody accepted it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.utils.translation import gettext, gettext_lazy

from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet
from farmbuild.quotes.models.columns import checksum, moment, money, who
from farmbuild.quotes.models.jobs import Job
from farmbuild.quotes.models.quotes import Option, Quote


class FileManager(models.Manager.from_queryset(OrgOwnedQuerySet)):
    """Rows without their files: a list must not read them."""

    def get_queryset(self) -> OrgOwnedQuerySet:
        return super().get_queryset().defer("pdf", "workbook")


class QuoteVersion(OrgOwned):
    """A quote as it was sent. Nothing of it changes but its state, by a trigger (migration guards)."""

    class State(models.TextChoices):
        SENT = "sent", gettext_lazy("Sent")
        ACCEPTED = "accepted", gettext_lazy("Accepted")
        WITHDRAWN = "withdrawn", gettext_lazy("Withdrawn")

    quote = models.ForeignKey(Quote, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    currency = models.CharField(max_length=3)
    #: All that it shows.
    shown = models.JSONField()
    pdf = models.BinaryField()
    workbook = models.BinaryField()
    #: Of the PDF and of the workbook.
    sha256 = checksum()
    workbook_sha256 = checksum()
    valid_until = models.DateField()
    sent_at = models.DateTimeField()
    sent_by = who()
    sent_how = models.CharField(gettext_lazy("how it was sent"), max_length=120, blank=True)
    state = models.CharField(max_length=9, choices=State, default=State.SENT)

    objects = FileManager()

    class Meta:
        ordering = ["quote", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "number"], name="quote_version_number_once"),
            models.CheckConstraint(
                condition=Exact(Length("sha256"), 64) & Exact(Length("workbook_sha256"), 64),
                name="quote_version_has_checksums",
            ),
        ]

    def __str__(self) -> str:
        return gettext("%(quote)s, version %(number)s") % {"quote": self.quote.reference, "number": self.number}


class QuoteLink(OrgOwned):
    """An address at which a version, or a change order, is seen without signing in. Only the digest of its secret is
    kept.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="links")
    version = models.ForeignKey(QuoteVersion, models.PROTECT, null=True, blank=True, related_name="links")
    change = models.ForeignKey("quotes.ChangeOrder", models.PROTECT, null=True, blank=True, related_name="links")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    expires_at = models.DateTimeField()
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()
    ended_at = moment()
    ended_by = who()

    class Meta:
        ordering = ["version", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(version__isnull=False, change__isnull=True) | Q(version__isnull=True, change__isnull=False),
                name="link_to_a_version_or_a_change",
            ),
        ]

    def __str__(self) -> str:
        return f"Link to {self.version or self.change}"


class Acceptance(OrgOwned):
    """That a version is accepted with one of its options: once a job, and never edited (migration guards).

    ``by_user``: who entered it for the customer; None: the customer did, by ``link``.
    """

    job = models.OneToOneField(Job, models.PROTECT, related_name="acceptance")
    version = models.ForeignKey(QuoteVersion, models.PROTECT, related_name="acceptances")
    option = models.ForeignKey(Option, models.PROTECT, related_name="+")
    #: As in the version.
    option_name = models.CharField(max_length=80)
    name = models.CharField(gettext_lazy("name of who accepts"), max_length=120)
    day = models.DateField(gettext_lazy("accepted on"))
    #: On behalf: how it was said.
    how = models.CharField(gettext_lazy("how it was said"), max_length=120, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    link = models.ForeignKey(QuoteLink, models.PROTECT, null=True, blank=True, related_name="acceptances")
    by_user = who()
    before_tax = money(gettext_lazy("before tax"))
    tax = money("tax")
    total = money("total")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="acceptance_has_a_name"),
            models.CheckConstraint(
                condition=Q(link__isnull=False, by_user__isnull=True) | Q(link__isnull=True, by_user__isnull=False),
                name="accepted_by_link_or_on_behalf",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job.reference} accepted by {self.name}"
