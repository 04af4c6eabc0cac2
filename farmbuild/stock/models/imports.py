"""A stock file between its arrival and its lots."""

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from farmbuild.catalogue.models import Material, Supplier
from farmbuild.common.fields import LengthField
from farmbuild.common.long_work import LongWork
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import Site


class ImportDraft(OrgOwned, LongWork):
    """A file that one person sent. Nothing of it is in stock until ``stored_at``, and from then on all of it.

    It is worked on twice: read, and, once it is confirmed, put into stock. A short one is ready at once each time.
    """

    WAITS_SINCE = ("confirmed_at", "made_at")

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    filename = models.CharField(max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    #: When a row says no day it came on this one.
    day = models.DateField(null=True, editable=False)
    #: What was sent, while nobody has read it.
    file = models.BinaryField(null=True, editable=False)
    rows = models.PositiveIntegerField(default=0)
    bad_rows = models.PositiveIntegerField(default=0)
    confirmed_at = models.DateTimeField(null=True, blank=True, editable=False)
    #: Parts whose rows are lots that wait (``ImportLot``).
    prepared = models.PositiveIntegerField(default=0, editable=False)
    stored_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(state="failed") | ~Q(problem=""), name="import_stopped_says_why"),
            models.CheckConstraint(
                condition=Q(state="working", heard_from_at__isnull=False) & ~Q(worker="")
                | ~Q(state="working") & Q(worker=""),
                name="import_worked_on_by_one",
            ),
            models.CheckConstraint(
                condition=Q(stored_at__isnull=True) | Q(state="ready", confirmed_at__isnull=False),
                name="import_stored_was_confirmed",
            ),
        ]

    def __str__(self) -> str:
        return self.filename

    @property
    def is_read(self) -> bool:
        return self.state == self.State.READY and self.confirmed_at is None

    @property
    def is_under_way(self) -> bool:
        return self.state in (self.State.WAITING, self.State.WORKING)


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


class ImportLot(models.Model):
    """A lot of a confirmed file, before it is one: nothing but its draft knows it. Keys are looked at when it becomes
    one, so none is held here."""

    draft = models.ForeignKey(ImportDraft, models.CASCADE, related_name="lots")
    row = models.PositiveIntegerField()
    reference = models.CharField(max_length=40)
    material = models.ForeignKey(Material, models.DO_NOTHING, related_name="+", db_constraint=False, db_index=False)
    length = LengthField(null=True)
    offcut = models.BooleanField()
    place = models.CharField(max_length=80)
    site = models.ForeignKey(Site, models.DO_NOTHING, null=True, related_name="+", db_constraint=False, db_index=False)
    supplier = models.ForeignKey(
        Supplier, models.DO_NOTHING, null=True, related_name="+", db_constraint=False, db_index=False
    )
    owner = models.ForeignKey(
        "crew.Member", models.DO_NOTHING, null=True, related_name="+", db_constraint=False, db_index=False
    )
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, default=Decimal(0))
    received_on = models.DateField()
    quantity = models.PositiveIntegerField()

    class Meta:
        ordering = ["row"]
        constraints = [models.UniqueConstraint(fields=["draft", "row"], name="import_lot_once_a_row")]

    def __str__(self) -> str:
        return f"{self.draft}, row {self.row}"
