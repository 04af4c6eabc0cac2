"""Bills of stages and changes: to the coin, never above the contract, once a stage, and taken back by a credit."""

from __future__ import annotations

import io
import threading
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connections
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from farmbuild.planning.pricing.billing import Part, bill_parts, left_of, stage_amount
from farmbuild.planning.pricing.quote import Kind
from farmbuild.quotes.agreed.contract import contract_of
from farmbuild.quotes.bills import services
from farmbuild.quotes.bills.selectors import Billing, parts_of
from farmbuild.quotes.models import Bill
from tests.factories import MembershipFactory, OrganisationFactory
from tests.quotes.agreed import OPTION_A, accepted_change, accepted_job, staged

D = Decimal


@pytest.fixture
def job(organisation, user):
    return accepted_job(organisation, user)


def _bill(organisation, user, job, stage, **more):
    return services.bill_stage(organisation=organisation, user=user, job=job, stage=stage, **more)


@pytest.mark.django_db
def test_the_stages_of_the_worked_example(organisation, user, job):
    accepted_change(job, user)
    stages = staged(job)
    assert contract_of(job=job).before_tax == D("6160.25")
    first, second = (_bill(organisation, user, job, stage) for stage in stages[:2])
    assert (first.billed, second.billed) == (D("1848.08"), D("2464.10"))
    assert first.kept + second.kept == D("215.61")
    assert first.billed + second.billed - first.kept - second.kept == D("4096.57")
    last = _bill(organisation, user, job, stages[2])
    assert last.billed == D("1848.07")
    assert (first.reference, second.reference, last.reference) == ("B-0001", "B-0002", "B-0003")
    bills = [first, second, last]
    # 134.17 of the option and 5.70 of the door.
    assert sum(bill.tax for bill in bills) == D("139.87")
    assert sum(part.amount for bill in bills for part in parts_of(bill) if part.kind == Kind.MATERIALS) == D("2237.91")
    kept = services.bill_kept(organisation=organisation, user=user, job=job)
    assert (kept.billed, kept.kept, kept.due) == (0, D("-308.01"), D("308.01"))
    assert sum(bill.due for bill in [*bills, kept]) == D("6300.12")
    with pytest.raises(ValidationError, match="billed already, by B-0004"):
        services.bill_kept(organisation=organisation, user=user, job=job)


@pytest.mark.django_db
def test_bills_of_a_job_are_its_own(organisation, user, job):
    other = accepted_job(organisation, user, name="Another")
    mine, theirs = (_bill(organisation, user, each, staged(each)[0]) for each in (job, other))
    found = [[bill.pk for bill in Billing(contract_of(job=each)).bills] for each in (job, other)]
    assert found == [[mine.pk], [theirs.pk]]


@pytest.mark.django_db
def test_a_change_is_billed_by_itself_or_within_the_stages(organisation, user, job):
    stages = staged(job)
    first = _bill(organisation, user, job, stages[0])
    assert first.billed == D("1767.91")
    door = accepted_change(job, user)
    own = services.bill_change(organisation=organisation, user=user, job=job, change=door)
    assert (own.billed, own.tax) == (D("267.21"), D("5.70"))
    with pytest.raises(ValidationError, match="billed already, by B-0002"):
        services.bill_change(organisation=organisation, user=user, job=job, change=door)
    rest = [_bill(organisation, user, job, stage) for stage in stages[1:]]
    assert first.billed + sum(bill.billed for bill in rest) == D("5893.04")
    more = accepted_change(job, user, what="Another door")
    assert Billing(contract_of(job=job)).open == D("267.21")
    services.bill_change(organisation=organisation, user=user, job=job, change=more)
    assert Billing(contract_of(job=job)).open == 0
    assert sum(bill.tax for bill in Bill.objects.all()) == D("145.57")


@pytest.mark.django_db
def test_a_change_within_a_stage_has_no_bill_of_its_own(organisation, user, job):
    stages, door = staged(job), accepted_change(job, user)
    _bill(organisation, user, job, stages[0])
    with pytest.raises(ValidationError, match="B-0001 asks for a part of change 1 already"):
        services.bill_change(organisation=organisation, user=user, job=job, change=door)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("5893.05", r"above the contract: \$5,893.04 of it is not billed yet"),
        ("-1", "0 or more"),
        ("0", "of the contract is left to bill"),
        ("10.005", "no coins as small"),
    ],
)
def test_an_amount_that_no_bill_can_have(organisation, user, job, amount, words):
    stages = staged(job)
    with pytest.raises(ValidationError, match=words) as refused:
        _bill(organisation, user, job, stages[0], amount=D(amount))
    assert "amount" in refused.value.message_dict
    assert not Bill.objects.exists()


@pytest.mark.django_db
def test_a_bill_of_all_leaves_nothing_for_the_next(organisation, user, job):
    stages = staged(job)
    _bill(organisation, user, job, stages[0], amount=D("5893.04"))
    with pytest.raises(ValidationError, match="Nothing of the contract is left"):
        _bill(organisation, user, job, stages[1])


@pytest.mark.django_db
def test_the_last_stage_asks_for_all_that_is_left(organisation, user, job):
    stages = staged(job, (60, 40))
    _bill(organisation, user, job, stages[0], amount=D("100"))
    with pytest.raises(ValidationError, match=r"all that is left: \$5,793.04"):
        _bill(organisation, user, job, stages[1], amount=D("5793.03"))
    assert _bill(organisation, user, job, stages[1]).billed == D("5793.04")


@pytest.mark.django_db
def test_a_bill_is_taken_back_by_a_credit_and_made_again(organisation, user, job):
    stages = staged(job)
    bill = _bill(organisation, user, job, stages[0])
    with pytest.raises(ValidationError, match="Say why"):
        services.take_back(organisation=organisation, user=user, bill=bill, reason=" ")
    credit = services.take_back(organisation=organisation, user=user, bill=bill, reason="Wrong day")
    assert (credit.reference, credit.billed, credit.due) == ("B-0002", -bill.billed, -bill.due)
    with pytest.raises(ValidationError, match="taken back already"):
        services.take_back(organisation=organisation, user=user, bill=bill, reason="Again")
    with pytest.raises(ValidationError, match="takes back another"):
        services.take_back(organisation=organisation, user=user, bill=credit, reason="Again")
    again = _bill(organisation, user, job, stages[0])
    assert (again.reference, again.billed, again.kept, again.tax) == ("B-0003", bill.billed, bill.kept, bill.tax)


@pytest.mark.django_db
def test_what_was_kept_back_comes_last(organisation, user, job):
    stages = staged(job, (100,))
    with pytest.raises(ValidationError, match="comes last"):
        services.bill_kept(organisation=organisation, user=user, job=job)
    bill = _bill(organisation, user, job, stages[0])
    services.bill_kept(organisation=organisation, user=user, job=job)
    with pytest.raises(ValidationError, match="Take back B-0002 first"):
        services.take_back(organisation=organisation, user=user, bill=bill, reason="Wrong")
    later = accepted_change(job, user)
    assert services.bill_change(organisation=organisation, user=user, job=job, change=later).kept == 0


@pytest.mark.django_db
def test_a_bill_is_of_the_day_of_acceptance_at_the_soonest_and_due_after_its_days(organisation, user, job):
    """Accepted on 3 September 2026, to be paid within 30 days; a credit is due at once."""
    who = {"organisation": organisation, "user": user}
    stages = staged(job, (50, 50))
    accepted = date(2026, 9, 3)
    with pytest.raises(ValidationError, match="Type that day or a later one"):
        _bill(**who, job=job, stage=stages[0], day=accepted - timedelta(days=1))
    bill = _bill(**who, job=job, stage=stages[0], day=accepted)
    assert (bill.day, (bill.due_on - bill.day).days) == (accepted, job.bill_terms.pay_days)
    credit = services.take_back(**who, bill=bill, reason="Wrong")
    assert credit.due_on == credit.day


@pytest.mark.django_db
def test_stages_change_again_once_no_bill_of_them_counts(organisation, user, job):
    who = {"organisation": organisation, "user": user}
    bill = _bill(**who, job=job, stage=staged(job, (60, 40))[0])
    services.take_back(**who, bill=bill, reason="Wrong stages")
    rows = [("Half", D(50)), ("Rest", D(50))]
    services.save_stages(**who, job=job, rows=rows, kept_percent=D(5), pay_days=14)
    assert [*job.stages.order_by("position").values_list("name", "percent")] == rows


@pytest.mark.django_db
def test_what_was_kept_back_is_taken_back_itself(organisation, user, job):
    who = {"organisation": organisation, "user": user}
    stages = staged(job, (100,))
    _bill(**who, job=job, stage=stages[0])
    kept = services.bill_kept(**who, job=job)
    assert services.take_back(**who, bill=kept, reason="Too soon").due == -kept.due


@pytest.mark.django_db
def test_a_deduction_comes_back_to_the_customer(organisation, user, job):
    stages = staged(job, (80, 20))
    less = [dict(OPTION_A[3], quantity="-1"), dict(OPTION_A[8], quantity="-40")]
    _bill(organisation, user, job, stages[0])
    accepted_change(job, user, less, what="No film")
    contract = contract_of(job=job)
    last = _bill(organisation, user, job, stages[1])
    assert last.billed < 0
    assert sum(bill.billed for bill in Bill.objects.all()) == contract.before_tax
    assert sum(bill.tax for bill in Bill.objects.all()) == contract.tax


@pytest.mark.django_db
def test_stages_make_a_hundred_and_stay_once_billed(organisation, user, job):
    who = {"organisation": organisation, "user": user, "job": job, "kept_percent": D(5), "pay_days": 14}
    with pytest.raises(ValidationError, match="make 90 percent"):
        services.save_stages(**who, rows=[("One", D(40)), ("Two", D(50))])
    with pytest.raises(ValidationError, match="one stage at least"):
        services.save_stages(**who, rows=[])
    with pytest.raises(ValidationError, match="less than 100"):
        services.save_stages(**who | {"kept_percent": D(100)}, rows=[("One", D(100))])
    services.save_stages(**who, rows=[("One", D(40)), ("Two", D(60))])
    services.save_stages(**who, rows=[("All", D(100))])
    [stage] = job.stages.all()
    bill = _bill(organisation, user, job, stage)
    assert (bill.due_on - bill.day).days == 14
    with pytest.raises(ValidationError, match="There are bills"):
        services.save_stages(**who, rows=[("All", D(100))])


@pytest.mark.django_db
def test_nothing_accepted_nothing_billed(organisation, user, job):
    from farmbuild.quotes.models import Job

    other = Job.objects.create(organisation=organisation, number=99, customer=job.customer, name="Asked only")
    [stage] = staged(other, (100,))
    with pytest.raises(ValidationError, match="Nothing is accepted yet"):
        _bill(organisation, user, other, stage)


@pytest.mark.django_db
def test_the_files_say_what_the_bill_says(organisation, user, job):
    stages = staged(job)
    bill = _bill(organisation, user, job, stages[0])
    assert bytes(bill.pdf).startswith(b"%PDF-")
    sheet = load_workbook(io.BytesIO(bytes(bill.workbook)), data_only=True)["Bill"]
    cells = {row[0].value: row[1].value for row in sheet.iter_rows() if row[0].value}
    assert D(str(cells["To be paid"])) == bill.due
    assert D(str(cells["In all"])) == bill.billed
    assert D(str(cells["Left to bill, before tax"])) == D("5893.04") - bill.billed


def test_of_several_contracts_no_more_tax_is_billed_than_they_have():
    """Each was rounded by itself to no tax at all, and both together would have a coin."""
    contract = [Part(Kind.WORK, D(10), D("0.04"), D(0))] * 2
    [part] = bill_parts(contract, [], D("0.06"), currency="USD")
    assert (part.amount, part.tax) == (D("0.06"), 0)


@pytest.mark.django_db
def test_the_sheet_of_a_bill_works_out_what_it_says(organisation, user, job):
    """What a spreadsheet makes of the formulas, and not what was written beside them."""
    bill = _bill(organisation, user, job, staged(job)[0])
    assert bill.kept > 0
    sheet = load_workbook(io.BytesIO(bytes(bill.workbook)))["Bill"]
    at = {row[0].value: row[0].row for row in sheet.iter_rows() if row[0].value}
    assert [sheet.cell(at["What"], column).value for column in (2, 3, 4)] == ["Before tax, USD", "Tax, %", "Tax, USD"]
    all_in, kept = at["In all"], at["Kept back"]
    assert sheet.cell(at["To be paid"], 2).value == f"=B{all_in}-B{kept}+D{all_in}"
    assert D(str(sheet.cell(kept, 2).value)) == bill.kept
    rows = range(at["What"] + 1, all_in)
    for column, sum_of in (("B", bill.billed), ("D", bill.tax)):
        assert sheet[f"{column}{all_in}"].value == f"=SUM({column}{rows[0]}:{column}{rows[-1]})"
        assert sum(D(str(sheet[f"{column}{row}"].value)) for row in rows) == sum_of


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_bill_one_stage_at_once():
    organisation = OrganisationFactory()
    users = [MembershipFactory(organisation=organisation).user for _ in range(2)]
    job = accepted_job(organisation, users[0])
    [stage, _] = staged(job, (50, 50))
    gate, refused = threading.Barrier(2), []

    def press(user):
        try:
            gate.wait()
            _bill(organisation, user, job, stage)
        except ValidationError as error:
            refused.append(error.messages)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=(user,)) for user in users]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [bill.number for bill in Bill.objects.all()] == [1]
    assert refused == [["Stage 1 is billed already, by B-0001."]]


_ROW = st.tuples(st.sampled_from(list(Kind)), st.sampled_from(["0", "6.25", "19"]), st.integers(0, 500_000))


@settings(deadline=None)
@given(
    st.sampled_from(["USD", "JPY", "KWD"]),
    st.lists(_ROW, min_size=1, max_size=6),
    st.lists(st.integers(1, 60), min_size=1, max_size=8),
)
def test_bills_add_up_to_their_contract(currency, rows, weights):
    coin = {"USD": D("0.01"), "JPY": D(1), "KWD": D("0.001")}[currency]
    contract = []
    for kind, percent, coins in rows:
        amount = coins * coin
        contract.append(Part(kind, D(percent), amount, (amount * D(percent) / 100).quantize(coin, "ROUND_HALF_UP")))
    whole = sum(part.amount for part in contract)
    percents = [D(weight * 100) / sum(weights) for weight in weights]
    billed = []
    for at, percent in enumerate(percents, start=1):
        left = whole - sum(part.amount for part in billed)
        amount = stage_amount(whole, percent, left, last=at == len(percents), currency=currency)
        parts = bill_parts(contract, billed, amount, currency=currency)
        assert sum(part.amount for part in parts) == amount
        assert all(part.amount >= 0 and part.tax >= 0 for part in parts)
        billed += parts
    assert all(part.amount == part.tax == 0 for part in left_of(contract, billed).values())
