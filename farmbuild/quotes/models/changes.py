"""Changes after a job was accepted, each with its own price."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.columns import moment, money, who
from farmbuild.quotes.models.jobs import Job
from farmbuild.quotes.models.sending import FileManager, QuoteLink


class ChangeOrder(OrgOwned):
    """``lines`` and amounts stay from the moment it is sent (migration guards). A deduction has amounts below 0."""

    class State(models.TextChoices):
        DRAFT = "draft", gettext_lazy("Draft")
        SENT = "sent", gettext_lazy("Sent")
        ACCEPTED = "accepted", gettext_lazy("Accepted")
        DECLINED = "declined", gettext_lazy("Declined")

    job = models.ForeignKey(Job, models.PROTECT, related_name="changes")
    number = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=240)
    currency = models.CharField(max_length=3)
    #: Lines of cost as those of an option, and the rates they were priced with.
    lines = models.JSONField(default=list)
    rates = models.JSONField(default=dict)
    #: All that the customer is shown, from the moment it is sent.
    shown = models.JSONField(default=dict)
    #: Cost by kind as worked out, for what it is held against.
    cost = money("cost")
    before_tax = money(gettext_lazy("before tax"))
    tax = money("tax")
    total = money("total")
    pdf = models.BinaryField(null=True)
    workbook = models.BinaryField(null=True)
    sha256 = models.CharField(max_length=64, blank=True, editable=False)
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()
    valid_until = models.DateField(null=True, blank=True)
    sent_at = moment()
    sent_by = who()
    sent_how = models.CharField(gettext_lazy("how it was sent"), max_length=120, blank=True)
    #: Of who declined too; ``accepted_link`` and ``accepted_by``: one of both, as of ``Acceptance``.
    accepted_on = models.DateField(null=True, blank=True, editable=False)
    accepted_name = models.CharField(gettext_lazy("name of who accepts"), max_length=120, blank=True, editable=False)
    accepted_at = moment()
    accepted_by = who()
    accepted_how = models.CharField(gettext_lazy("how it was said"), max_length=120, blank=True, editable=False)
    accepted_link = models.ForeignKey(
        QuoteLink, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )

    objects = FileManager()

    class Meta:
        ordering = ["job", "number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="change_number_once_a_job"),
            models.CheckConstraint(
                condition=Q(state="draft") | Q(sent_at__isnull=False), name="change_sent_at_a_moment"
            ),
            models.CheckConstraint(
                condition=~Q(state="accepted") | (Q(accepted_on__isnull=False) & ~Q(accepted_name="")),
                name="change_accepted_by_somebody_on_a_day",
            ),
        ]

    def __str__(self) -> str:
        return gettext("Change %(number)s of %(job)s") % {"number": self.number, "job": self.job.reference}
