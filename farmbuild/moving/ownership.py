"""Whose rows each table has: of an organisation, of everybody, or of those that stay where they are.

A table that stands in none of the lists is forgotten, and a test says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

from django.apps import apps
from django.db.models import BinaryField, ForeignKey, Model, QuerySet

USER, ORGANISATION = "orgs.User", "orgs.Organisation"

#: Tables of which an organisation's rows go with it. Rows without an organisation of their own go with the first row
#: that they must name.
OWNED = frozenset(
    """
    history.Entry
    orgs.Organisation orgs.Membership
    catalogue.Material catalogue.Supplier catalogue.Offer catalogue.PriceBreak catalogue.OfferRecord catalogue.PriceList
    sites.Site sites.House sites.HouseOwnRow
    hoops.Recipe hoops.Bender hoops.Bender_tubes hoops.MeasuredHoop hoops.ServiceRecord hoops.HoopBatch hoops.BatchHouse
    hoops.TrialHoop hoops.BatchSticks hoops.BentHoops hoops.SpoiltSticks hoops.HouseFit hoops.FitReading
    stock.Place stock.Lot stock.LotNumbers stock.Cut stock.CutPiece stock.Movement stock.CostShare stock.Repricing
    stock.StockCount stock.CountPlace stock.CountLine stock.CountEntry stock.CountFind stock.Leave stock.Reservation
    stock.HeldPiece stock.UsedHold
    plans.Plan plans.PlanHouse plans.PlanSavings plans.PlanFromYard
    buying.PurchaseOrder buying.SentWorkbook buying.PurchaseOrderLine buying.OrderChange buying.Receipt
    buying.ReceiptLine buying.Invoice buying.InvoiceLine buying.InvoiceCheck buying.CostAdjustment
    buying.AdjustmentShare buying.LessWanted buying.Reply
    crew.CrewSettings crew.WorkWeek crew.WorkHours crew.Crew crew.Skill crew.Person crew.Person_skills crew.DayOff
    crew.Travel crew.Rate crew.WorkTemplate crew.WorkStep crew.StepAfter crew.HouseWork crew.Schedule crew.Task
    crew.Actual crew.Member crew.BenderRequest crew.BenderBooking crew.BookingMove crew.MemberSignIn crew.ProblemPhoto
    crew.ProblemSettled crew.BookingPhoto crew.HourCorrection crew.OtherWork crew.HourApproval crew.SharingRules
    crew.WindLimit crew.WindForecast
    costs.Equipment costs.EquipmentRate costs.EquipmentDay costs.PayRate costs.PaidTime costs.TripRate costs.Trip
    quotes.Customer quotes.Job quotes.JobHouse quotes.Survey quotes.SurveyPhoto quotes.QuoteRates quotes.Quote
    quotes.Option quotes.OptionHouse quotes.QuoteLine quotes.QuoteVersion quotes.QuoteLink quotes.Acceptance
    quotes.ChangeOrder quotes.Stage quotes.BillTerms quotes.Bill quotes.ToCome
    coop.MemberEntry coop.ChargeRate coop.FreeDays coop.BookingCharge coop.Damage coop.PipeLoan coop.PipeReturn
    coop.CommonOffer coop.CommonOffer_members coop.CommonWish coop.JointOrder coop.JointMember coop.JointNeed
    coop.JointPurchase coop.Handout coop.MemberPayment coop.SentStatement
    """.split()  # noqa: SIM905
)
#: Go along as people: name, e-mail and what they sign in as, never a password.
PEOPLE = frozenset({USER})

_SECRET = "a secret by which somebody is let in; a new one is made there"
_HALF = "a file that is half read in; it is sent again"
_MAIL = "which e-mails a server has sent"
_OTHERS = "joins organisations; the others are not in the file, so they are linked again by a card"
#: Tables whose rows stay, and why.
LEFT_OUT: Mapping[str, str] = {
    "common.Press": "forms that were sent, so that each counts once",
    "orgs.User_groups": "nobody has any",
    "orgs.User_user_permissions": "nobody has any",
    "access.Session": _SECRET,
    "access.Entry": "who signed in at this server, and from where",
    "access.SecondStep": _SECRET,
    "access.PaperCode": _SECRET,
    "access.Invitation": _SECRET,
    "access.WeeklySheet": "an e-mail that somebody wants of one server; ticked again there",
    "access.SentSheet": _MAIL,
    "crew.SentWarning": _MAIL,
    "api.Token": _SECRET,
    "api.Answered": "what programs asked, so that each counts once",
    "api.Webhook": "an address that a server may tell, with a secret; added again there",
    "api.Attempt": "what such an address answered",
    "crew.CalendarFeed": _SECRET,
    "coop.FarmCard": _SECRET,
    "coop.MemberFarm": _OTHERS,
    "coop.TakenOver": _OTHERS,
    "stock.CountDraft": _HALF,
    "stock.ImportDraft": _HALF,
    "stock.ImportPart": _HALF,
    "stock.ImportLot": _HALF,
    "projects.ProjectDraft": _HALF,
    "moving.Export": "an export is not in an export",
    "moving.ExportPart": "an export is not in an export",
}
#: Apps that are not ours: what their tables have is of the server.
OF_THE_SERVER: Mapping[str, str] = {
    "axes": "wrong tries to sign in at this server",
    "admin": "what the keeper of the server did",
    "auth": "made by the program",
    "contenttypes": "made by the program",
    "sessions": _SECRET,
    "django_tasks_database": "work that waits for a worker of this server",
}


def unplaced() -> list[str]:
    """Tables of which nobody has said whose they are."""
    named = OWNED | PEOPLE | LEFT_OUT.keys()
    labels = {model._meta.label: model._meta.app_label for model in apps.get_models(include_auto_created=True)}
    return sorted(label for label, app in labels.items() if label not in named and app not in OF_THE_SERVER)


@cache
def owned_models() -> tuple[type[Model], ...]:
    """In the order of the app registry, the organisation first."""
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.label in OWNED]
    return tuple(sorted(models, key=lambda model: model._meta.label != ORGANISATION))


def references(model: type[Model]) -> Iterator[ForeignKey]:
    return (field for field in model._meta.concrete_fields if isinstance(field, ForeignKey))


@cache
def way_to_organisation(model: type[Model]) -> str:
    """A lookup from a row to its organisation."""
    if model._meta.label == ORGANISATION:
        return "pk"
    if any(field.name == "organisation" for field in references(model)):
        return "organisation"
    for field in references(model):
        if not field.null and field.related_model._meta.label in OWNED:
            return f"{field.name}__{way_to_organisation(field.related_model)}"
    raise LookupError(f"{model._meta.label} names no row of an organisation.")


def rows_of(model: type[Model], organisation: int) -> QuerySet:
    """By their keys."""
    return model._base_manager.filter(**{way_to_organisation(model): organisation}).order_by("pk")


def file_columns(model: type[Model]) -> list[BinaryField]:
    return [field for field in model._meta.concrete_fields if isinstance(field, BinaryField)]


def people_columns(model: type[Model]) -> list[ForeignKey]:
    return [field for field in references(model) if field.related_model._meta.label == USER]
