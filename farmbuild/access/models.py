"""Sign-ins in use, the log of sign-ins, the second step, and invitations."""

from __future__ import annotations

from importlib import import_module

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import OrgOwned

_USER = settings.AUTH_USER_MODEL


class Session(AbstractBaseSession):
    """Django's own session, with what its owner has to see to know it again: a sign-in in use where ``user`` is set."""

    user = models.ForeignKey(_USER, models.CASCADE, null=True, related_name="sign_ins")
    begun_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)
    browser = models.CharField(max_length=80, blank=True)
    address = models.CharField(max_length=45, blank=True)

    @classmethod
    def get_session_store_class(cls) -> type:
        return import_module(settings.SESSION_ENGINE).SessionStore


class Entry(models.Model):
    """A line of the log of sign-ins. It is never edited, and holds nothing that was typed."""

    class What(models.TextChoices):
        SIGNED_IN = "in", _("Signed in")
        WRONG_PASSWORD = "password", _("Wrong password")
        WRONG_CODE = "code", _("Wrong code at the second step")
        PAPER_CODE = "paper", _("Signed in with a code from paper")
        SIGNED_OUT = "out", _("Signed out")
        TIME_UP = "time", _("Signed out after its time")
        ENDED = "ended", _("Sign-ins ended")
        PASSWORD = "changed", _("Password changed")
        LINK_MADE = "link", _("Link for a new password made")
        LINK_SENT = "sent", _("Link for a new password sent")
        STEP_ON = "step on", _("Second step turned on")
        STEP_OFF = "step off", _("Second step turned off")
        PAPER_MADE = "paper new", _("New codes on paper made")
        JOINED = "joined", _("Joined by an invitation")
        TAKEN_OUT = "left", _("Taken out of an organisation")
        WRONG_INVITATION = "invitation", _("Wrong code of an invitation")
        WRONG_ADDRESS = "address", _("Wrong address of a quote")
        REFUSED = "refused", _("Refused")

    at = models.DateTimeField(default=timezone.now, db_index=True)
    what = models.CharField(max_length=12, choices=What)
    #: None: nobody was known yet, as where the code of an invitation is typed.
    user = models.ForeignKey(_USER, models.CASCADE, null=True, related_name="sign_in_log")
    #: Who did it where that is somebody else.
    by = models.ForeignKey(_USER, models.SET_NULL, null=True, related_name="+")
    #: Which page, where one was refused.
    page = models.CharField(max_length=120, blank=True)
    browser = models.CharField(max_length=80, blank=True)
    address = models.CharField(max_length=45, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["user", "-at"], name="sign_in_log_by_user")]

    def __str__(self) -> str:
        return self.get_what_display()


class SecondStep(models.Model):
    """The code app of a user. The secret itself is not stored: ``second_step.secret_of`` works it out."""

    user = models.OneToOneField(_USER, models.CASCADE, related_name="second_step")
    nonce = models.CharField(max_length=40)
    #: None: shown, and not yet answered with a code of it.
    on_since = models.DateTimeField(null=True)
    #: The last step of time that was used; no code works twice.
    last_step = models.BigIntegerField(default=0)
    wrong = models.PositiveSmallIntegerField(default=0)
    rests_until = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"Second step of {self.user}"


class PaperCode(models.Model):
    """A code on paper for a day without the phone: good once, kept as a digest."""

    user = models.ForeignKey(_USER, models.CASCADE, related_name="paper_codes")
    salt = models.CharField(max_length=24)
    digest = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"Code on paper of {self.user}"


class Card(OrgOwned):
    """What is handed over as a link or as a code on paper, of which only digests are kept; taken once."""

    #: What words and digests name it by.
    CALLED = ""

    digest = models.CharField(max_length=64, unique=True)
    code_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(_USER, models.SET_NULL, null=True, related_name="+")
    ends_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True)
    taken_at = models.DateTimeField(null=True)
    taken_by = models.ForeignKey(_USER, models.SET_NULL, null=True, related_name="+")

    class Meta:
        abstract = True
        ordering = ["-made_at", "-pk"]


class Invitation(Card):
    """The way into an organisation."""

    CALLED = gettext_noop("invitation")

    name = models.CharField(max_length=150)
    #: One of ``Membership.Role``.
    role = models.CharField(max_length=7)
    email = models.EmailField(blank=True)

    class Meta(Card.Meta):
        constraints = [
            models.CheckConstraint(
                condition=models.Q(taken_at=None) | models.Q(withdrawn_at=None), name="invitation_taken_or_withdrawn"
            )
        ]

    def __str__(self) -> str:
        return self.name


class WeeklySheet(OrgOwned):
    """Somebody wants the week of this organisation by e-mail; whoever does not, has no row."""

    user = models.ForeignKey(_USER, models.CASCADE, related_name="weekly_sheets")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organisation", "user"], name="weekly_sheet_once")]

    def __str__(self) -> str:
        return f"Weekly sheet of {self.organisation} for {self.user}"


class SentSheet(OrgOwned):
    """The sheet of one week for one person. Whoever has claimed it sends it; nobody else does until that is over."""

    user = models.ForeignKey(_USER, models.CASCADE, related_name="+")
    monday = models.DateField()
    claimed_until = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "user", "monday"], name="sent_sheet_once_a_week")
        ]

    def __str__(self) -> str:
        return f"Week of {self.monday} for {self.user}"
