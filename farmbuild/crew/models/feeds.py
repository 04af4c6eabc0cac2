"""Calendars that other programs read without a sign-in, each at an address that cannot be guessed."""

from django.db import models
from django.db.models import Q

from farmbuild.crew.models.bookings import Member
from farmbuild.crew.models.people import Person
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.models import OrgOwned


class CalendarFeed(OrgOwned):
    """The calendar of one bender, person or member; at most one of each is open at a time."""

    #: SHA-256 of the secret in the address. Of 256 random bits nothing can be guessed, so that it needs no salt.
    digest = models.CharField(max_length=64, unique=True, editable=False)
    bender = models.ForeignKey(Bender, models.CASCADE, null=True, blank=True, related_name="feeds")
    person = models.ForeignKey(Person, models.CASCADE, null=True, blank=True, related_name="feeds")
    member = models.ForeignKey(Member, models.CASCADE, null=True, blank=True, related_name="feeds")
    made_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(bender__isnull=False, person__isnull=True, member__isnull=True)
                | Q(bender__isnull=True, person__isnull=False, member__isnull=True)
                | Q(bender__isnull=True, person__isnull=True, member__isnull=False),
                name="feed_of_one",
            ),
            models.UniqueConstraint(fields=["bender"], condition=Q(revoked_at=None), name="feed_open_once_a_bender"),
            models.UniqueConstraint(fields=["person"], condition=Q(revoked_at=None), name="feed_open_once_a_person"),
            models.UniqueConstraint(fields=["member"], condition=Q(revoked_at=None), name="feed_open_once_a_member"),
        ]

    def __str__(self) -> str:
        return f"Calendar of {self.bender or self.person or self.member}"

    #: Known to the feed that was just made, and kept nowhere.
    secret = ""

    def get_absolute_url(self) -> str:
        """Of a feed that was just made; nobody can tell that of a stored one."""
        return reverse_outside("crew:calendar", self.secret) if self.secret else ""
