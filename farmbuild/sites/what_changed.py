"""What the history keeps of these tables."""

from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES
from farmbuild.sites.models import House, HouseOwnRow, Site

keep(Site, "site", deeds=ARCHIVES, leads_to=("sites:site", "slug"))
keep(House, "house", leave_out=["saved_at", "saved_by"], deeds=ARCHIVES, leads_to=("sites:house", "slug"))
keep(
    HouseOwnRow,
    of="house",
    title="row of its own",
    leave_out=["position"],
    name=lambda row: str(row.material),
    with_rows=["material"],
)
