"""What members paid, and the statements that went out to them."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy

from farmbuild.coop.models.entries import MemberEntry
from farmbuild.crew.models import Member
from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.columns import checksum, money, who
from farmbuild.quotes.models.sending import FileManager


class MemberPayment(OrgOwned):
    """A member paid, or was paid (``paid_out``). Never edited (guards); taken back with its entry."""

    class How(models.TextChoices):
        TRANSFER = "transfer", gettext_lazy("Bank transfer")
        CASH = "cash", gettext_lazy("Cash")
        CHEQUE = "cheque", gettext_lazy("Cheque")
        CARD = "card", gettext_lazy("Card")
        OTHER = "other", gettext_lazy("Another way")

    entry = models.OneToOneField(MemberEntry, models.PROTECT, related_name="payment")
    member = models.ForeignKey(Member, models.PROTECT, related_name="payments")
    paid_out = models.BooleanField(gettext_lazy("paid to the member"), default=False)
    amount = money("amount")
    how = models.CharField(max_length=8, choices=How)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [models.CheckConstraint(condition=Q(amount__gt=0), name="payment_of_some_money")]

    def __str__(self) -> str:
        return f"{self.get_how_display()} of {self.member}"


class SentStatement(OrgOwned):
    """A statement as it went out, with all entries up to ``through`` that are of ``last`` or an earlier day.

    Never edited (guards). The next one of the member begins on the day after ``last`` with ``closing``, and tells what
    was posted since for earlier days. ``number`` counts from 1 in each organisation and is written S-0001.
    """

    number = models.PositiveIntegerField(editable=False)
    member = models.ForeignKey(Member, models.PROTECT, related_name="statements")
    first = models.DateField("from")
    last = models.DateField("to")
    currency = models.CharField(max_length=3)
    opening = money("balance before")
    closing = money("balance after")
    #: The key of the last entry that there was.
    through = models.PositiveBigIntegerField(default=0)
    #: All that it shows.
    shown = models.JSONField()
    pdf = models.BinaryField()
    workbook = models.BinaryField()
    sha256 = checksum()
    workbook_sha256 = checksum()
    sent_at = models.DateTimeField(auto_now_add=True)
    sent_by = who()

    objects = FileManager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="statement_number_once_an_organisation"),
            models.UniqueConstraint(fields=["member", "last"], name="statement_once_a_member_and_last_day"),
            models.CheckConstraint(condition=Q(first__lte=F("last")), name="statement_ends_after_it_starts"),
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="statement_has_a_checksum"),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def reference(self) -> str:
        return f"S-{self.number:04}"
