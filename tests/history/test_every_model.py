"""The history keeps every table in which a person can change a row, or says here why it need not."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.auth.models import UserManager
from django.db.models import BinaryField, ForeignKey

from farmbuild.history.capture import KeptQuerySet
from farmbuild.history.kept import KEPT, is_secret, kinds, parent_of, record_of
from farmbuild.history.models import Entry

_LEDGER = "each row says itself who did it and when, and the database lets nobody edit it"
_DRAFT = "nothing of it counts before it is taken over, and then it goes"
_FOLLOWS = "follows from what is told"
#: Tables that the history does not keep, and why.
EXCEPTIONS = {
    "history.Entry": "is the history",
    "access.Entry": "is the log of sign-ins",
    "access.Invitation": "says itself who made it and who took it",
    "access.PaperCode": "stands in the log of sign-ins",
    "access.SecondStep": "stands in the log of sign-ins",
    "access.Session": "stands in the log of sign-ins",
    "access.SentSheet": "says itself when it was sent",
    "access.WeeklySheet": "an e-mail that somebody wants for themselves",
    "api.Answered": "what programs asked, so that each counts once",
    "api.Attempt": "says itself when it was sent, by the machine",
    "common.Press": "forms that were sent, so that each counts once",
    "catalogue.OfferRecord": _LEDGER,
    "stock.Cut": _LEDGER,
    "stock.CutPiece": _LEDGER,
    "stock.CostShare": "follows from movements",
    "stock.CountEntry": _LEDGER,
    "stock.CountLine": "follows from the entries of a count, which say who and when",
    "stock.CountPlace": _FOLLOWS,
    "stock.LotNumbers": "the last number given",
    "stock.HeldPiece": _FOLLOWS,
    "stock.UsedHold": _FOLLOWS,
    "stock.CountDraft": _DRAFT,
    "stock.ImportDraft": _DRAFT,
    "stock.ImportPart": _DRAFT,
    "stock.ImportLot": _DRAFT,
    "projects.ProjectDraft": _DRAFT,
    "hoops.HouseFit": _LEDGER,
    "hoops.FitReading": _LEDGER,
    "hoops.BatchSticks": _FOLLOWS,
    "hoops.BentHoops": _LEDGER,
    "hoops.MeasuredHoop": "says itself who wrote it down and who took it back, and why",
    "hoops.ServiceRecord": "as a measured hoop",
    "moving.Export": "a copy of what is here, for whoever asked for it",
    "moving.ExportPart": "a piece of such a copy",
    "crew.SentWarning": "says itself when it was sent",
    "buying.OrderChange": _LEDGER,
    "buying.SentWorkbook": _LEDGER,
    "buying.Receipt": _LEDGER,
    "buying.ReceiptLine": _LEDGER,
    "buying.Invoice": "says itself who recorded it and who reversed it, and why; nothing else of it changes",
    "buying.InvoiceLine": _LEDGER,
    "buying.InvoiceCheck": _LEDGER,
    "buying.CostAdjustment": _LEDGER,
    "buying.AdjustmentShare": _FOLLOWS,
    "buying.LessWanted": _FOLLOWS,
    "buying.Reply": "says itself who read it and who took it over",
    "crew.Actual": _LEDGER,
    "crew.ProblemPhoto": "says itself who added and who removed it, and why",
    "crew.ProblemSettled": _LEDGER,
    "crew.HourCorrection": _LEDGER,
    "crew.HourApproval": _LEDGER,
    "crew.OtherWork": "says itself who recorded and who removed it, and why",
    "crew.BookingMove": _LEDGER,
    "quotes.Bill": _LEDGER,
    "quotes.SurveyPhoto": "says itself who added and who removed it",
    "crew.WindForecast": _LEDGER,
    "costs.PaidTime": _LEDGER,
    "costs.EquipmentDay": _LEDGER,
    "costs.Trip": _LEDGER,
    "coop.FarmCard": "says itself who made it and who took it",
    "coop.MemberEntry": _LEDGER,
    "coop.BookingCharge": _LEDGER,
    "coop.MemberPayment": _LEDGER,
    "coop.SentStatement": _LEDGER,
    "coop.Damage": "says itself who asked for it, who disputed it and who answered, and why",
    "crew.BookingPhoto": "says itself who added and who removed it, and why",
    "coop.JointPurchase": _FOLLOWS,
    "coop.Handout": _LEDGER,
    "coop.PipeLoan": _LEDGER,
    "coop.PipeReturn": _LEDGER,
    "coop.CommonWish": "says itself who wished for it, who answered, and why",
    "coop.TakenOver": _LEDGER,
}


def _models():
    return [model for model in apps.get_models() if model.__module__.startswith("farmbuild.")]


def test_every_table_is_kept_or_named_with_a_reason():
    kept = {model._meta.label for model in KEPT}
    assert {model._meta.label for model in _models()} - kept - EXCEPTIONS.keys() == set()
    assert kept & EXCEPTIONS.keys() == set()
    assert EXCEPTIONS.keys() - {model._meta.label for model in _models()} == set()


def test_kept_tables_are_written_by_a_query_set_that_tells():
    """The manager of users is Django's own; what is done to many of them at once is nowhere in the services."""
    silent = {
        model._meta.label
        for model in KEPT
        if not issubclass(model._default_manager._queryset_class, KeptQuerySet)
        and not isinstance(model._default_manager, UserManager)
    }
    assert silent == set()


@pytest.mark.parametrize("model", sorted(KEPT, key=lambda model: model._meta.label), ids=lambda model: model.__name__)
def test_no_secret_and_no_file_is_kept(model):
    kept = KEPT[model]
    names = {*kept.names, *kept.many}
    assert {name for name in names if is_secret(name)} == set()
    assert not any(isinstance(kept.field(name), BinaryField) for name in names)
    assert kept.money <= names


def test_every_amount_is_money():
    """So that only they see it who may see costs. Lengths and percents have fewer places or a field of their own."""
    amounts = {
        f"{model.__name__}.{name}"
        for model, kept in KEPT.items()
        for name in {*kept.names} - kept.money
        if type(kept.field(name)).__name__ == "DecimalField" and kept.field(name).max_digits >= 12
    }
    assert amounts == set()


def test_every_part_leads_to_a_record():
    for model, kept in KEPT.items():
        assert record_of(model).kind
        assert not kept.of or isinstance(kept.field(kept.of), ForeignKey)
        assert not kept.of or parent_of(kept) in KEPT


def test_a_kind_is_one_table():
    assert len(kinds()) == len([kept for kept in KEPT.values() if kept.kind])
    assert all(len(kind) <= Entry._meta.get_field("kind").max_length for kind in kinds())


def test_nobody_edits_it_in_the_admin():
    assert not admin.site.is_registered(Entry)
