"""Who wants the week of an organisation by e-mail, and which sheets went out: each once a week a person."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

from django.core import signing
from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from farmbuild.access.models import SentSheet, WeeklySheet
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.models import Membership, Organisation, User

#: From this day on the next week's sheet goes out; before it this week's, where it has not yet. 0 is Monday.
FRIDAY = 4
#: How long whoever sends a sheet has for it; what a process that ended left behind is taken up again then.
CLAIM = timedelta(minutes=10)
KEPT = timedelta(days=60)
_SALT = "farmbuild.access.weekly"


def week_of(today: date) -> date:
    """The Monday of the week whose sheet is due on this day."""
    monday = today - timedelta(days=today.weekday())
    return monday + timedelta(days=7) if today.weekday() >= FRIDAY else monday


def wanted_by(*, user: User) -> set[int]:
    """Keys of the organisations whose week they want."""
    return set(WeeklySheet.objects.filter(user=user).values_list("organisation", flat=True))


@transaction.atomic
def save_wanted(*, user: User, organisations: Collection[Organisation]) -> None:
    """Of these and no others; one that they do not belong to is left out."""
    User.objects.select_for_update(no_key=True).get(pk=user.pk)
    own = Membership.objects.filter(user=user, organisation__in=organisations).values_list("organisation", flat=True)
    wanted, before = set(own), wanted_by(user=user)
    WeeklySheet.objects.filter(user=user).exclude(organisation__in=wanted).delete()
    WeeklySheet.objects.bulk_create(WeeklySheet(user=user, organisation_id=key) for key in sorted(wanted - before))


def end_path(sheet: WeeklySheet) -> str:
    """Of the page that ends it, for whoever has the e-mail."""
    return reverse_outside("access:weekly-end", signing.Signer(salt=_SALT).sign(sheet.pk))


def by_token(token: str) -> WeeklySheet | None:
    """None where the link is not ours, or was used already."""
    try:
        key = signing.Signer(salt=_SALT).unsign(token)
    except signing.BadSignature:
        return None
    return WeeklySheet.objects.filter(pk=key).select_related("organisation").first()


def end(*, sheet: WeeklySheet) -> None:
    WeeklySheet.objects.filter(pk=sheet.pk).delete()


def to_send() -> QuerySet[WeeklySheet]:
    """Of everybody who can sign in, belongs there still and has an address."""
    belongs = Membership.objects.filter(organisation=OuterRef("organisation"), user=OuterRef("user"))
    rows = WeeklySheet.objects.filter(Exists(belongs), user__is_active=True, user__visitor=False)
    return rows.exclude(user__email="").select_related("organisation", "user").order_by("organisation", "pk")


@transaction.atomic
def claim(*, sheet: WeeklySheet, monday: date) -> SentSheet | None:
    """Whoever gets a row sends it; None where it went out, or another process is at it."""
    now = timezone.now()
    about = {"organisation": sheet.organisation, "user": sheet.user}
    SentSheet.objects.filter(**about, monday__lt=monday - KEPT).delete()
    row = SentSheet.objects.filter(**about, monday=monday).first()
    if row is None:
        try:
            with transaction.atomic():
                return SentSheet.objects.create(**about, monday=monday, claimed_until=now + CLAIM)
        except IntegrityError:
            # Another process was quicker.
            return None
    free = SentSheet.objects.filter(pk=row.pk, sent_at=None, claimed_until__lte=now)
    return row if free.update(claimed_until=now + CLAIM) else None


def note_sent(row: SentSheet) -> None:
    SentSheet.objects.filter(pk=row.pk).update(sent_at=timezone.now())


def let_go(row: SentSheet) -> None:
    """It did not go out: the next run tries again."""
    SentSheet.objects.filter(pk=row.pk, sent_at=None).update(claimed_until=timezone.now())
