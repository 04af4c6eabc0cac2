"""What the history keeps of these tables."""

from farmbuild.history.keeping import keep
from farmbuild.measure import format_count
from farmbuild.stock.models import CountFind, Leave, Lot, Movement, Place, Repricing, Reservation, StockCount

_SAID_BY_THE_LEDGER = (
    *("kind", "at", "by", "borrower", "back_on", "reverses", "gives_back", "moved_from", "cut", "member", "leave"),
    *("amount", "estimated"),
)


def _scrapped(row: Movement) -> str | None:
    """The ledger itself tells of movements; what was thrown away is told with why."""
    return "scrapped pieces of" if row.kind == Movement.Kind.SCRAP and not row.reverses_id else None


keep(Place, "place")
keep(
    Lot,
    "lot",
    leave_out=["on_hand", "reserved", "promised", "value", "basis_value", "basis_pieces"],
    money=["unit_cost"],
    # The movement that brought it says who and when.
    added=None,
    leads_to=("stock:lot", "pk"),
)
keep(
    Movement,
    of="lot",
    leave_out=_SAID_BY_THE_LEDGER,
    added=_scrapped,
    labels={"quantity": "pieces", "reason": "why"},
)
keep(
    Leave,
    of="lot",
    title="leave",
    leave_out=["given_at", "given_by", "ended_at", "ended_by"],
    added="recorded leave for",
    name=lambda row: "",
    labels={"ended_because": "ended, because"},
)
keep(
    Repricing,
    of="lot",
    title="another price",
    # What one piece costs is told by the lot itself.
    leave_out=["old_cost", "new_cost", "at", "by"],
    money=["amount"],
    added="gave another price to",
    name=lambda row: "",
    labels={"pieces": "pieces on hand", "reason": "why"},
)
keep(
    StockCount,
    "count",
    title="stock count",
    leave_out=["number", "started_at", "started_by", "ended_at", "ended_by"],
    money=["look_again"],
    deeds={"state": {"posted": "posted", "dropped": "cancelled"}},
    leads_to=("stock:count", "number"),
)
keep(
    CountFind,
    of="count",
    title="pieces found",
    leave_out=["at", "by", "lot"],
    money=["unit_cost"],
    name=lambda row: f"{format_count(row.quantity)} of {row.material}",
    with_rows=["material"],
)


def _held(row: Reservation) -> str:
    material = (row.lot or row.order_line).material
    return f"{material} for {row.purpose}"


keep(
    Reservation,
    of="house",
    title="held",
    # Of what it is follows from where it stands; the day from the house.
    leave_out=["plan", "need_by", "made_at", "made_by"],
    name=_held,
    whole=lambda row: f"{format_count(row.quantity)} of {_held(row)}, {row.lot or row.order_line}",
    with_rows=["lot__material", "order_line__material", "order_line__order"],
    labels={"quantity": "pieces held", "lot": "held in lot", "order_line": "held on"},
)
