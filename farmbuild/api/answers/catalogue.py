"""Materials, and to whom prices are shown: suppliers and what they offer."""

from datetime import date

from django.http import HttpRequest
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.values import Amount, Currency, Mm, Number, amount, field, mm, plain
from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.selectors import materials_listed, offers_of, suppliers_of
from farmbuild.orgs.acts import Act

router = Router(tags=["materials"])
PRICES = Bearer(Act.COSTS)


class MaterialOut(Schema):
    code: str
    name: str
    kind: str
    width_mm: Mm | None = field("Of tube the outside diameter.")
    thickness_mm: Mm | None = field("Of tube the wall.")
    swaged: bool
    by_length: bool = field("It is bought by length; else it is counted.")
    yield_mpa: Number | None


class SupplierOut(Schema):
    code: str
    name: str
    contact: str
    currency: Currency
    delivery_charge: Amount
    free_delivery_from: Amount | None
    minimum_order: Amount


class PriceOut(Schema):
    from_quantity: int
    unit_price: Amount


class OfferOut(Schema):
    id: int
    supplier: str
    material: str
    length_mm: Mm | None
    pack: int
    lead_days: int | None = field("None: the supplier has not said.")
    valid_until: date | None
    supplier_code: str
    currency: Currency
    prices: list[PriceOut]


def material_out(row: Material):
    return {
        "code": row.code,
        "name": row.name,
        "kind": row.kind,
        "width_mm": mm(row.width),
        "thickness_mm": mm(row.thickness),
        "swaged": row.swaged,
        "by_length": row.by_length,
        "yield_mpa": None if row.yield_mpa is None else plain(row.yield_mpa),
    }


@reads(router, "/materials", "materials", listed(MaterialOut), Bearer(Act.SEE), "Materials in use")
def materials(request: HttpRequest, asked: Part):
    return part(materials_listed(organisation=request.organisation, archived=False), asked, material_out)


@reads(router, "/suppliers", "suppliers", listed(SupplierOut), PRICES, "Suppliers")
def suppliers(request: HttpRequest, asked: Part):
    currency = request.organisation.currency

    def out(row: Supplier):
        return {
            "code": row.code,
            "name": row.name,
            "contact": row.contact,
            "currency": currency,
            "delivery_charge": amount(row.delivery_charge),
            "free_delivery_from": amount(row.free_delivery_from),
            "minimum_order": amount(row.minimum_order),
        }

    return part(suppliers_of(organisation=request.organisation), asked, out)


@reads(router, "/offers", "offers", listed(OfferOut), PRICES, "What suppliers ask for materials")
def offers(request: HttpRequest, asked: Part, supplier: str | None = None, material: str | None = None):
    rows = offers_of(organisation=request.organisation)
    if supplier is not None:
        rows = rows.filter(supplier__code=supplier)
    if material is not None:
        rows = rows.filter(material__code=material)
    currency = request.organisation.currency

    def out(row: Offer):
        return {
            "id": row.pk,
            "supplier": row.supplier.code,
            "material": row.material.code,
            "length_mm": mm(row.length),
            "pack": row.pack,
            "lead_days": row.lead_days,
            "valid_until": row.valid_until,
            "supplier_code": row.supplier_code,
            "currency": currency,
            "prices": [
                {"from_quantity": each.from_quantity, "unit_price": amount(each.unit_price)}
                for each in row.breaks.all()
            ],
        }

    return part(rows, asked, out)
