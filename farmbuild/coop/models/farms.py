"""Members whose farm has an organisation of its own here, and the cards that link the two."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from farmbuild.access.models import Card
from farmbuild.crew.models import Member
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation, OrgOwned, OrgOwnedQuerySet

_USER = settings.AUTH_USER_MODEL


class MemberFarmQuerySet(OrgOwnedQuerySet):
    def standing(self) -> "MemberFarmQuerySet":
        """Those that neither side has ended."""
        return self.filter(ended_at=None)


class MemberFarm(OrgOwned):
    """A member of ``organisation``, the cooperative, is the farm ``farm`` from ``made_at`` until ``ended_at``.

    Never edited but to end it, and never deleted (guards); linked again it is another row.
    """

    member = models.ForeignKey(Member, models.PROTECT, related_name="farms")
    farm = models.ForeignKey(Organisation, models.PROTECT, related_name="cooperatives")
    made_by = models.ForeignKey(_USER, models.PROTECT, null=True, related_name="+", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    ended_by = models.ForeignKey(_USER, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = MemberFarmQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["member"], condition=Q(ended_at=None), name="member_of_one_farm"),
            models.UniqueConstraint(
                fields=["organisation", "farm"], condition=Q(ended_at=None), name="farm_one_member_of_a_cooperative"
            ),
            models.CheckConstraint(condition=~Q(farm=F("organisation")), name="farm_is_not_its_cooperative"),
        ]

    def __str__(self) -> str:
        return f"{self.farm} as {self.member}"


class FarmCard(Card):
    """An owner of a farm that takes it makes that farm the member's."""

    CALLED = gettext_noop("card")

    member = models.ForeignKey(Member, models.PROTECT, related_name="cards")

    class Meta(Card.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(taken_at=None) | Q(withdrawn_at=None), name="farm_card_taken_or_withdrawn"
            )
        ]

    def __str__(self) -> str:
        return f"Card for {self.member}"
