"""What the history keeps of these tables."""

from farmbuild.catalogue.models import Material, Offer, PriceBreak, PriceList, Supplier
from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES
from farmbuild.measure import format_count

keep(Material, "material", deeds=ARCHIVES, leads_to=("catalogue:material", "code"))
keep(
    Supplier,
    "supplier",
    money=["delivery_charge", "free_delivery_from", "minimum_order"],
    leads_to=("catalogue:supplier", "code"),
)
keep(
    Offer,
    "offer",
    leave_out=["made_as"],
    leads_to=("catalogue:offer", "supplier.code", "pk"),
    with_rows=["material", "supplier"],
)
keep(PriceBreak, of="offer", money=["unit_price"], name=lambda row: f"from {format_count(row.from_quantity)}")
keep(
    PriceList,
    "price-list",
    title="price list",
    leave_out=["sheets", "said", "choices", "changes", "sha256", "read_at", "read_by", "taken_by"],
    deeds={"taken_at": ("took over", "reopened")},
    added=None,
)
