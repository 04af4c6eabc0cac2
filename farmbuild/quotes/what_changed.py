"""What the history keeps of these tables."""

from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES
from farmbuild.quotes.models import (
    Acceptance,
    BillTerms,
    ChangeOrder,
    Customer,
    Job,
    JobHouse,
    Option,
    OptionHouse,
    Quote,
    QuoteLine,
    QuoteLink,
    QuoteRates,
    QuoteVersion,
    Stage,
    Survey,
    ToCome,
)

_RATES = ["labour", "overhead", "bender_day", "trip"]

keep(Customer, "customer", deeds=ARCHIVES, leads_to=("quotes:customer", "slug"))
keep(
    Job,
    "job",
    leave_out=["number", "made_at", "made_by", "plan"],
    deeds={
        **ARCHIVES,
        "state": {
            "enquiry": "opened again",
            "quoted": "sent the quote",
            "accepted": "accepted",
            "finished": "finished",
            "lost": "lost",
        },
    },
    labels={"lost_because": "why"},
    leads_to=("quotes:job", "number"),
)
keep(
    JobHouse,
    of="job",
    title="house",
    leave_out=["live", "agreed"],
    name=lambda row: str(row.house),
    with_rows=["house"],
)
keep(Survey, of="job", title="ground", name=lambda row: "", leave_out=["saved_at", "saved_by"])
keep(Stage, of="job", title="stage", leave_out=["position"])
keep(QuoteRates, of="organisation", title="rates of quotes", name=lambda row: "", money=_RATES)
keep(
    Quote,
    "quote",
    leave_out=["number", "currency", "made_at", "made_by"],
    money=_RATES,
    leads_to=("quotes:quote", "number"),
)
keep(Option, of="quote", title="option", leave_out=["position", "based_on", "priced_at", "unpriced"])
keep(OptionHouse, of="option", title="house", leave_out=["position", "spec", "own_rows", "source_house", "starter"])
keep(
    QuoteLine,
    of="option",
    title="line",
    leave_out=[
        *("position", "kind", "key", "offer", "to_stock", "typed_at", "typed_by"),
        *("worked_quantity", "worked_price"),
    ],
    money=["price"],
    # Lines that are worked out follow from the houses and what is offered.
    added=lambda row: None if row.key else "added",
)
keep(
    QuoteVersion,
    of="quote",
    title="version",
    leave_out=["currency", "shown", "pdf", "workbook", "sha256", "workbook_sha256", "sent_at", "sent_by"],
    added="sent",
    deeds={"state": {"accepted": "accepted", "withdrawn": "withdrew"}},
    name=lambda row: str(row.number),
)
keep(
    QuoteLink,
    of="job",
    title="link",
    leave_out=["version", "change", "digest", "made_at", "made_by", "ended_by"],
    deeds={"ended_at": ("ended", "opened")},
    name=lambda row: str(row.version or row.change),
)
keep(
    Acceptance,
    of="job",
    title="acceptance",
    leave_out=["at", "link", "by_user", "option"],
    money=["before_tax", "tax", "total"],
)
keep(
    ChangeOrder,
    of="job",
    title="change order",
    leave_out=[
        *("number", "currency", "lines", "rates", "pdf", "workbook", "sha256", "made_at", "made_by"),
        *("sent_at", "sent_by", "accepted_at", "accepted_by", "accepted_link", "shown"),
    ],
    money=["cost", "before_tax", "tax", "total"],
    deeds={"state": {"draft": "took back", "sent": "sent", "accepted": "accepted", "declined": "declined"}},
    name=lambda row: row.what,
)
keep(BillTerms, of="job", title="terms of bills", name=lambda row: "")
keep(
    ToCome,
    of="job",
    title="still to come",
    leave_out=["at", "by"],
    money=["amount"],
    added="typed",
    name=lambda row: "",
)
