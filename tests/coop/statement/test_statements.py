"""Statements: balances that follow each other, what went out stays, and sums that a spreadsheet finds too."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal
from hashlib import sha256
from zipfile import ZipFile

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from openpyxl import load_workbook

from farmbuild.coop.books.services import NewEntry, post_entries
from farmbuild.coop.charges import services as charges
from farmbuild.coop.law import faults_of
from farmbuild.coop.models import MemberEntry, MemberPayment, SentStatement
from farmbuild.coop.statement.files import all_pdfs, all_workbook, statement_workbook
from farmbuild.coop.statement.frozen import balance_words, frozen_statement
from farmbuild.coop.statement.payments import take_back_payment
from farmbuild.coop.statement.selectors import (
    balances_of,
    owed_both_ways,
    season_of,
    statement_of,
    statements_of,
    unsent_from,
)
from farmbuild.coop.statement.services import send_statement
from farmbuild.crew.models import SharingRules
from tests.coop.making import may
from tests.factories import MemberFactory, OrganisationFactory
from tests.workbooks.books import recalculated

pytestmark = pytest.mark.django_db
D = Decimal
MAY, JUNE = (may(1), may(31)), (date(2026, 6, 1), date(2026, 6, 30))


@pytest.fixture
def posted(coop):
    """Alder owes 36.00 for days in May, paid 20.00 on 1 June; Birch is owed 7.25 for stakes that Alder had of it."""
    coop.rate("day", "12")
    coop.back(may(4), may(6))
    coop.post()
    with transaction.atomic():
        pipe = [
            NewEntry(coop.alder, may(20), MemberEntry.Kind.OTHER, "3 stakes from Birch Bank", D("7.25"), "loan 1"),
            NewEntry(coop.birch, may(20), MemberEntry.Kind.OTHER, "3 stakes to a member", D("-7.25"), "loan 1"),
        ]
        post_entries(**coop.who, entries=pipe)
    coop.pay(coop.alder, "20", date(2026, 6, 1))
    return coop


def test_a_statement_says_what_was_before_what_came_and_what_is_after(posted):
    in_may = statement_of(member=posted.alder, first=MAY[0], last=MAY[1])
    assert (in_may.opening, in_may.closing) == (0, D("43.25"))
    assert [(part.title, part.amount) for part in in_may.parts] == [
        ("Benders", D(36)),
        ("Other", D("7.25")),
    ]
    june = statement_of(member=posted.alder, first=JUNE[0], last=JUNE[1])
    assert (june.opening, june.closing) == (D("43.25"), D("23.25"))
    assert [(part.title, part.amount) for part in june.parts] == [("Paid", D(-20))]
    assert statement_of(member=posted.birch, first=JUNE[0], last=JUNE[1]).closing == D("-7.25")
    assert balance_words(D("-7.25")) == "Comes to you"


def test_balances_go_both_ways_and_make_the_sum_of_all_entries(posted):
    balances = balances_of(organisation=posted.organisation)
    assert balances == {posted.alder.pk: D("23.25"), posted.birch.pk: D("-7.25")}
    assert owed_both_ways(balances) == (D("23.25"), D("7.25"))
    all_of_them = statements_of(organisation=posted.organisation, first=MAY[0], last=JUNE[1])
    assert sum(one.closing for one in all_of_them) == D(16) == sum(row.amount for row in MemberEntry.objects.all())
    assert [*faults_of(organisation=posted.organisation)] == []


def test_a_member_of_another_cooperative_is_in_none_of_it(posted):
    other = MemberFactory(organisation=OrganisationFactory())
    assert {one.member for one in statements_of(organisation=posted.organisation, first=MAY[0], last=MAY[1])} == {
        posted.alder,
        posted.birch,
    }
    assert statement_of(member=other, first=MAY[0], last=MAY[1]).closing == 0
    with pytest.raises(ValidationError):
        send_statement(**posted.who, member=other, last=MAY[1])


def test_what_went_out_stays_and_a_later_correction_is_in_the_next_one(posted):
    sent = send_statement(**posted.who, member=posted.alder, last=MAY[1])
    assert (sent.reference, sent.first, sent.opening, sent.closing) == ("S-0001", date(2026, 1, 1), 0, D("43.25"))
    assert sha256(bytes(sent.pdf)).hexdigest() == sent.sha256
    # Of a day that went out, taken back and posted anew since.
    charges.take_back_charge(**posted.who, entry=MemberEntry.objects.get(kind="days"), reason="two days only")
    posted.rate("day", "8")
    posted.post()
    after = send_statement(**posted.who, member=posted.alder, last=JUNE[1])
    assert (after.reference, after.first, after.opening) == ("S-0002", JUNE[0], D("43.25"))
    assert after.closing == D("43.25") - 36 + 24 - 20 == posted.owes(posted.alder)
    rows = [row for part in after.shown["parts"] for row in part["rows"]]
    assert [(row["amount"], row["earlier"]) for row in rows] == [
        ("-36.000", True),
        ("24.000", True),
        ("-20.000", False),
    ]
    assert rows[0]["what"].startswith("Taken back: 3 days at $12.00: West") and rows[0]["what"].endswith(
        "(two days only)"
    )
    assert after.shown["after"] == "S-0001"
    sent.refresh_from_db()
    assert sent.shown["closing"] == "43.25" and sent.closing == D("43.25")
    assert [*faults_of(organisation=posted.organisation)] == []


def test_days_that_went_out_do_not_go_out_twice(posted):
    send_statement(**posted.who, member=posted.alder, last=MAY[1])
    for last in (MAY[1], may(10)):
        with pytest.raises(ValidationError, match="S-0001 went out for these days already, up to 31 May 2026"):
            send_statement(**posted.who, member=posted.alder, last=last)
    with pytest.raises(ValidationError, match="days that are over"):
        send_statement(**posted.who, member=posted.alder, last=date(2090, 1, 1))
    # Another member has its own.
    assert send_statement(**posted.who, member=posted.birch, last=MAY[1]).reference == "S-0002"
    assert unsent_from(member=posted.alder, day=JUNE[1]) == JUNE[0]


def test_the_database_keeps_what_went_out_and_what_was_paid(posted):
    send_statement(**posted.who, member=posted.alder, last=MAY[1])
    with pytest.raises(IntegrityError, match="sent_statement_never_edited"), transaction.atomic():
        SentStatement.objects.update(closing=0)
    with pytest.raises(IntegrityError, match="sent_statement_never_deleted"), transaction.atomic():
        SentStatement.objects.all()._raw_delete("default")
    with pytest.raises(IntegrityError, match="member_payment_never_edited"), transaction.atomic():
        MemberPayment.objects.update(amount=1)


def test_a_payment_is_of_whole_coins_of_a_day_that_was_and_taken_back_once(posted):
    with pytest.raises(ValidationError, match="above 0"):
        posted.pay(posted.alder, "0")
    with pytest.raises(ValidationError, match="no coins as small"):
        posted.pay(posted.alder, "1.001")
    with pytest.raises(ValidationError, match="once it is paid"):
        posted.pay(posted.alder, "1", date(2090, 1, 1))
    out = posted.pay(posted.birch, "7.25", paid_out=True, note="pipe of May")
    assert (out.entry.what, posted.owes(posted.birch)) == ("Paid to the member, cash: pipe of May", 0)
    take_back_payment(**posted.who, entry=out.entry, reason="never sent")
    with pytest.raises(ValidationError, match="taken back already"):
        take_back_payment(**posted.who, entry=out.entry, reason="never sent")
    assert posted.owes(posted.birch) == D("-7.25")
    with pytest.raises(ValidationError, match="where it was made"):
        take_back_payment(**posted.who, entry=MemberEntry.objects.get(kind="days"), reason="no")


def test_the_season_begins_on_the_day_of_the_rules_of_sharing(organisation):
    assert season_of(organisation=organisation, day=may(4)) == (date(2026, 1, 1), date(2026, 12, 31))
    SharingRules.objects.create(organisation=organisation, season_month=5, season_day=5)
    assert season_of(organisation=organisation, day=may(4)) == (date(2025, 5, 5), date(2026, 5, 4))
    assert season_of(organisation=organisation, day=may(5)) == (may(5), date(2027, 5, 4))


def test_the_command_says_what_differs(posted, capsys):
    call_command("recount_members")
    assert "add up" in capsys.readouterr().out
    with transaction.atomic():
        post_entries(
            **posted.who, entries=[NewEntry(posted.birch, may(8), MemberEntry.Kind.PAID, "by hand", D("-3.50"))]
        )
    with pytest.raises(CommandError, match="1 fault"):
        call_command("recount_members")
    told = capsys.readouterr().out
    assert f"Paid of member {posted.birch.pk}: -$3.50 stands in the account, $0.00 is right." in told


def test_pipe_between_members_comes_to_nothing(posted):
    with transaction.atomic():
        lent = NewEntry(posted.alder, may(20), MemberEntry.Kind.PIPE, "3 pipes", D("7.25"))
        post_entries(**posted.who, entries=[lent])
    assert "Pipe between members does not come to nothing: $7.25." in [*faults_of(organisation=posted.organisation)]


@pytest.mark.parametrize(("currency", "each", "sum_of"), [("JPY", "12.5", 38), ("KWD", "1.2345", "3.704")])
def test_amounts_are_in_coins_of_the_currency(coop, currency, each, sum_of):
    coop.organisation.currency = currency
    coop.organisation.save()
    coop.rate("day", each)
    coop.back(may(4), may(6))
    coop.post()
    assert statement_of(member=coop.alder, first=MAY[0], last=MAY[1]).closing == D(sum_of)
    sent = send_statement(**coop.who, member=coop.alder, last=MAY[1])
    assert D(sent.shown["closing"]) == D(sum_of)
    assert [*faults_of(organisation=coop.organisation)] == []


def frozen(coop, first=MAY[0], last=JUNE[1]):
    found = statements_of(organisation=coop.organisation, first=first, last=last)
    return [frozen_statement(one, organisation=coop.organisation) for one in found]


def test_files_are_the_same_bytes_for_the_same_statement(posted):
    shown = frozen(posted)
    assert all_workbook("Accounts", shown) == all_workbook("Accounts", shown)
    named = [(one["to"][0], one) for one in shown]
    data = all_pdfs(named)
    assert data == all_pdfs(named)
    with ZipFile(io.BytesIO(data)) as archive:
        assert archive.namelist() == ["Alder Patch.pdf", "Birch Bank.pdf"]
        assert archive.read("Alder Patch.pdf").startswith(b"%PDF")


def test_members_of_one_name_have_a_sheet_each(posted):
    twin = MemberFactory(organisation=posted.organisation, name="ALDER PATCH", slug="alder-patch-2")
    odd = MemberFactory(organisation=posted.organisation, name="[/]: *?", slug="odd")
    for member in (twin, odd):
        posted.pay(member, "5")
    book = load_workbook(io.BytesIO(all_workbook("Accounts", frozen(posted))))
    names = [name.lower() for name in book.sheetnames]
    assert len(names) == 5 == len({*names})


@pytest.mark.office
def test_libreoffice_finds_the_same_sums(posted, tmp_path):
    book = recalculated(all_workbook("Accounts", frozen(posted)), tmp_path)
    rows = [*book["All members"].iter_rows(min_row=5, values_only=True)]
    assert [row[:4] for row in rows] == [
        ("Alder Patch", 0, 23.25, 23.25),
        ("Birch Bank", 0, -7.25, -7.25),
        ("In all", 0, 16, 16),
    ]
    assert [*book["Alder Patch"].iter_rows(values_only=True)][-1][1:3] == ("Balance after", 23.25)
    # Alone it is the same sheet.
    alone = load_workbook(io.BytesIO(statement_workbook(frozen(posted)[0])))["Statement"]
    together = load_workbook(io.BytesIO(all_workbook("Accounts", frozen(posted))))["Alder Patch"]
    assert [*alone.iter_rows(values_only=True)] == [*together.iter_rows(values_only=True)]
