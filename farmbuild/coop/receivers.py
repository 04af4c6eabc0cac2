"""What the cooperative's rooms answer when organisations ask."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.common.next_steps import next_steps as common_steps
from farmbuild.coop.joint.next_steps import next_steps as joint_steps
from farmbuild.coop.members.next_steps import next_steps as members_steps
from farmbuild.coop.models import ChargeRate, CommonOffer, JointOrder, MemberEntry, PipeLoan, PipeReturn
from farmbuild.coop.pipe import panel as pipe
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """All of it is stored under the lock of the organisation, which whoever changes the currency has."""
    named = {
        PipeLoan: (_("price of pipe between members"), _("prices of pipe between members")),
        PipeReturn: (_("price of pipe that was lent"), _("prices of pipe that was lent")),
        MemberEntry: (_("entry of a member's account"), _("entries of members' accounts")),
        CommonOffer: (_("price of common stock"), _("prices of common stock")),
        ChargeRate: (_("price of a bender for members"), _("prices of benders for members")),
    }
    counts = {model: model.objects.of(organisation).count() for model in named}
    for model in (PipeLoan, PipeReturn):
        counts[model] = model.objects.of(organisation).filter(price__gt=0).count()
    closed = JointOrder.objects.of(organisation).exclude(closed_at=None).count()
    told = [count_noun(count, *named[model]) for model, count in counts.items() if count]
    return told + [count_noun(closed, _("closed joint order"), _("closed joint orders"))] * bool(closed)


def tell_next_steps(sender: Any, *, organisation: Organisation, **more: Any) -> list[NextStep]:
    steps = [*joint_steps(organisation=organisation), *common_steps(organisation=organisation)]
    return steps + pipe.next_steps(organisation=organisation) + members_steps(organisation=organisation)
