"""What is owed in kind stands on statements: page, PDF and workbook, of their last day, and stays as it went out."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.coop.pipe.selectors import pieces_owed_on
from farmbuild.coop.pipe.services import NewReturn, record_pipe, record_return, take_pipe_back, tell_pipe
from farmbuild.coop.statement.files import all_workbook, statement_pdf
from farmbuild.coop.statement.frozen import frozen_statement, pieces_of
from farmbuild.coop.statement.selectors import statement_of, statements_of
from farmbuild.coop.statement.services import send_statement
from tests.coop.pipe.making import Two
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(db):
    made = Two()
    made.before = made.today - timedelta(days=10)
    return made


def owed(two, member, day):
    found = pieces_owed_on(organisation=two.organisation, day=day).get(member.pk, [])
    return [(row.owes, row.other.name, row.count) for row in found]


def shown_of(two, member):
    statement = statement_of(member=member, first=two.before, last=two.today)
    return frozen_statement(statement, organisation=two.organisation)


def test_it_is_what_was_out_on_the_day_each_way(two):
    loan = record_pipe(**two.who, new=two.new(7, day=two.before))
    record_pipe(**two.who, new=two.new(2, day=two.before, lender=two.bo, borrower=two.ana))
    tell_pipe(**two.by(two.ana), new=two.new(1, day=two.before))
    record_return(**two.who, loan=loan, new=NewReturn(3, two.today))
    assert owed(two, two.bo, two.before - timedelta(days=1)) == []
    assert owed(two, two.bo, two.before) == [(True, "Ana", 7), (False, "Ana", 2)]
    assert owed(two, two.bo, two.today) == [(True, "Ana", 4), (False, "Ana", 2)]
    assert owed(two, two.ana, two.today) == [(True, "Bo", 2), (False, "Bo", 4)]


def test_sums_of_money_have_none_of_it_and_who_owes_pieces_alone_has_a_statement(two):
    record_pipe(**two.who, new=two.new(7, day=two.before))
    both = statements_of(organisation=two.organisation, first=two.before, last=two.today)
    assert [(one.member, one.closing, len(one.pieces)) for one in both] == [(two.ana, 0, 1), (two.bo, 0, 1)]
    frozen = [frozen_statement(one, organisation=two.organisation) for one in both]
    book = load_workbook(io.BytesIO(all_workbook("Accounts", frozen)))
    rows = [[cell.value for cell in row] for row in book["Bo"].iter_rows()]
    at = next(n for n, row in enumerate(rows) if row[1] and str(row[1]).startswith("Pieces owed on"))
    assert rows[at + 1][1].startswith("Owed to Ana: ") and rows[at + 1][2] == 7
    # Under the balance, so that no sum goes over it.
    assert any(row[1] == "Balance after" for row in rows[:at])


def test_what_went_out_stays_as_it_was(two, client):
    client.force_login(two.who["user"])
    loan = record_pipe(**two.who, new=two.new(7, day=two.before))
    sent = send_statement(**two.who, member=two.bo, last=two.today)
    take_pipe_back(**two.who, loan=loan, reason="told wrong")
    assert [(whom, count) for whom, _, count in pieces_of(sent.shown)] == [("Owed to Ana", 7)]
    page = text_of(client.get(reverse("coop:statement", args=[sent.number])))
    assert "Owed to Ana: 7 pieces of" in page
    assert "Owed to Ana" not in text_of(client.get(reverse("coop:account", args=[two.bo.slug])))
    # What was frozen before pieces were.
    before = {key: value for key, value in sent.shown.items() if key != "pieces"}
    assert pieces_of(before) == [] and statement_pdf(before).startswith(b"%PDF")


def test_a_member_reads_its_own_side_in_page_and_files(two, client):
    record_pipe(**two.who, new=two.new(7, day=two.before))
    client.force_login(two.users[two.ana.pk])
    lender = two.organisation.slug
    assert "Owed by Bo: 7 pieces of" in text_of(client.get(reverse("coop:seen-account", args=[lender])))
    with_pieces = client.get(reverse("coop:seen-account-pdf", args=[lender])).content
    shown = shown_of(two, two.ana)
    assert with_pieces.startswith(b"%PDF") and statement_pdf(shown) != statement_pdf(shown | {"pieces": []})


def test_many_loans_ask_the_database_as_often_as_one(two, client):
    client.force_login(two.who["user"])

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse("coop:account", args=[two.bo.slug])).status_code == 200
        return len(asked)

    record_pipe(**two.who, new=two.new(7, day=two.before))
    few = queries()
    for pieces in range(1, 6):
        record_pipe(**two.who, new=two.new(pieces, day=two.before, kind="lent"))
    record_pipe(**two.who, new=two.new(5, day=two.before, lender=two.bo, borrower=two.ana))
    assert queries() == few
    assert two.owes(two.bo) == Decimal(0)
