"""What batches answer when a house asks."""

from __future__ import annotations

from typing import Any

from farmbuild.hoops.batches import outdated
from farmbuild.hoops.batches.measured.findings import Finding, findings_in
from farmbuild.hoops.batches.measured.models import ServiceRecord
from farmbuild.hoops.batches.measured.wear import wear_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    return outdated.outdated_by(house=house)


def tell_findings(sender: Any, *, bender: Bender, **more: Any) -> list[Finding]:
    return findings_in(wear_of(bender=bender))


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """Stored under the lock of the organisation, which whoever changes the currency has."""
    services = ServiceRecord.objects.of(organisation).filter(cost__isnull=False).count()
    return [count_noun(services, _("service of a bender"), _("services of benders"))] if services else []
