"""The second step: codes of RFC 6238, each once, codes on paper, a rest after wrong ones, and a way out of it."""

from __future__ import annotations

import re
from datetime import timedelta
from threading import Thread

import pyotp
import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import second_step
from farmbuild.access.codes import SIGNS, make_code, plain
from farmbuild.access.models import Entry, PaperCode, SecondStep
from tests.access.conftest import PASSWORD, is_in, sign_in
from tests.reading import text_of

pytestmark = pytest.mark.django_db

#: RFC 6238, appendix B (from memory): seconds, and the eight figures by SHA-1 of the secret 12345678901234567890.
PUBLISHED = (
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
)
PUBLISHED_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


@pytest.mark.parametrize(("seconds", "figures"), PUBLISHED)
def test_codes_are_those_that_the_standard_prints(seconds, figures):
    assert pyotp.TOTP(PUBLISHED_SECRET, digits=8).at(seconds) == figures
    assert second_step.totp_of(PUBLISHED_SECRET).at(seconds) == figures[-second_step.DIGITS :]


@pytest.fixture
def app(person, clock):
    """The code that the app of ``person`` shows, so many steps from now; the second step is on."""
    step = second_step.prepare(user=person)
    totp = second_step.totp_of(second_step.secret_of(step))

    def shows(steps=0):
        return totp.at(clock.now + steps * second_step.SECONDS)

    shows.papers = second_step.turn_on(user=person, code=shows())
    clock.now += 60
    return shows


def give(browser, code):
    return browser.post(reverse("sign-in-code"), {"code": code})


def test_from_the_page_that_turns_it_on_to_signing_in_with_a_code(person, clock):
    browser, _ = sign_in(person)
    page = browser.get(reverse("access:step-on"))
    secret = re.search(r'class="secret">([A-Z2-7]{32})<', page.content.decode())[1]
    assert "<svg" in page.content.decode() and page["Cache-Control"].startswith("max-age=0")
    totp = pyotp.TOTP(secret)
    wrong = browser.post(reverse("access:step-on"), {"code": "12"})
    assert "This is not the code that the app shows now." in text_of(wrong)
    assert not second_step.is_on(user=person)
    made = browser.post(reverse("access:step-on"), {"code": totp.at(clock.now)})
    papers = re.findall(r"<li>((?:\w{4}-){2}\w{4})</li>", made.content.decode())
    assert len(set(papers)) == second_step.PAPER_CODES and "no-store" in made["Cache-Control"]
    assert papers[0] not in browser.get(reverse("access:account")).content.decode()

    clock.now += 60
    fresh, answer = sign_in(person)
    assert answer["Location"] == reverse("sign-in-code") and not is_in(fresh)
    assert give(fresh, totp.at(clock.now)).status_code == 302
    assert is_in(fresh)
    # Its key is another than between the steps, and the code is used up.
    other, _ = sign_in(person)
    before = other.session.session_key
    assert "was used already" in text_of(give(other, totp.at(clock.now))) and not is_in(other)
    clock.now += 30
    give(other, totp.at(clock.now))
    assert is_in(other) and other.session.session_key != before


def test_a_clock_may_be_half_a_minute_off_and_no_more(person, app, clock):
    for steps, taken in ((-2, False), (2, False), (-1, True), (1, True)):
        assert (second_step.take_code(user=person, code=app(steps)) == "") is taken, steps
    # A step before one that was used is over, although it would be near enough.
    assert second_step.take_code(user=person, code=app(0)) != ""


@pytest.mark.parametrize("code", ["", "12345", "１２３４５６", "²²²²²²", "1234567", "x" * 500, "\x00" * 6])
def test_what_is_no_code_is_refused(person, app, code):
    assert "not right" in second_step.take_code(user=person, code=code)


def test_each_code_on_paper_signs_in_once(person, app):
    code = app.papers[3]
    browser, _ = sign_in(person)
    assert give(browser, f" {code.lower().replace('-', ' ')} ").status_code == 302 and is_in(browser)
    again, _ = sign_in(person)
    assert give(again, code).status_code == 200 and not is_in(again)
    assert second_step.papers_left(user=person) == second_step.PAPER_CODES - 1
    for row in PaperCode.objects.all():
        assert not any(plain(code) in str(vars(row)).upper() for code in app.papers)


def test_new_codes_on_paper_ask_for_the_password_and_void_the_old(person, app):
    browser, _ = sign_in(person)
    give(browser, app())
    address = reverse("access:step-papers")
    assert "not the password" in text_of(browser.post(address, {"password": "something else"}))
    made = browser.post(address, {"password": PASSWORD})
    assert "shown only once" in text_of(made)
    assert second_step.take_code(user=person, code=app.papers[0]) != ""
    assert second_step.papers_left(user=person) == second_step.PAPER_CODES


def test_five_wrong_codes_rest_it_for_a_quarter_of_an_hour(person, app, clock):
    browser, _ = sign_in(person)
    for _ in range(second_step.WRONG_CODES - 1):
        assert "not right" in text_of(give(browser, "000 000"))
    assert "Too many wrong codes. Wait 15 minutes" in text_of(give(browser, "000000"))
    assert "Too many" in text_of(give(browser, app())) and "Too many" in text_of(give(browser, app.papers[0]))
    assert Entry.objects.filter(user=person, what=Entry.What.WRONG_CODE).count() == 7
    SecondStep.objects.update(rests_until=timezone.now() - timedelta(seconds=1))
    assert give(browser, app()).status_code == 302 and is_in(browser)


def test_the_code_has_ten_minutes_and_the_password_must_still_be_that(person, app, clock):
    late, _ = sign_in(person)
    clock.now += 601
    assert give(late, app())["Location"] == reverse("sign-in") and not is_in(late)
    other, _ = sign_in(person)
    person.set_password("before the first frost")
    person.save()
    assert give(other, app())["Location"] == reverse("sign-in") and not is_in(other)
    assert Client().get(reverse("sign-in-code"))["Location"] == reverse("sign-in")


def test_where_one_wanted_to_go_is_kept_and_no_other_site(person, app):
    for wanted, to in (("/account/log/", "/account/log/"), ("https://elsewhere.example/", reverse("home"))):
        browser = Client()
        typed = {"username": person.username, "password": PASSWORD, "next": wanted}
        assert browser.post(reverse("sign-in"), typed)["Location"] == reverse("sign-in-code")
        assert second_step.papers_left(user=person)
        assert give(browser, app.papers.pop())["Location"] == to


def test_the_administration_has_no_sign_in_of_its_own(person, app):
    person.is_staff = person.is_superuser = True
    person.save()
    browser = Client()
    asked = browser.get("/admin/", follow=True)
    assert asked.redirect_chain[-1][0].startswith(reverse("sign-in"))
    browser.post("/admin/login/", {"username": person.username, "password": PASSWORD})
    assert browser.get("/admin/").status_code == 302
    browser, _ = sign_in(person)
    assert browser.get("/admin/").status_code == 302
    give(browser, app())
    assert browser.get("/admin/").status_code == 200


def test_turning_it_off_asks_for_the_password(person, app):
    browser, _ = sign_in(person)
    give(browser, app())
    assert "not the password" in text_of(browser.post(reverse("access:step-off"), {"password": "a guess"}))
    assert second_step.is_on(user=person)
    browser.post(reverse("access:step-off"), {"password": PASSWORD})
    assert not second_step.is_on(user=person) and not PaperCode.objects.exists()
    assert is_in(sign_in(person)[0])
    # The next app is told another secret.
    assert second_step.secret_of(second_step.prepare(user=person)) != app


def test_the_keeper_of_the_machine_turns_it_off(person, app, capsys):
    call_command("second_step_off", person.username)
    assert "password alone" in capsys.readouterr().out
    assert is_in(sign_in(person)[0])
    for name, words in ((person.username, "has no second step"), ("nobody", "Nobody signs in as nobody")):
        with pytest.raises(CommandError, match=words):
            call_command("second_step_off", name)


def test_a_copy_of_the_database_makes_no_codes(person, app, settings):
    """What the app shares is nowhere in it: with another secret of the site it is another."""
    row = SecondStep.objects.get()
    shared = second_step.secret_of(row)
    assert shared not in str(vars(row))
    settings.SECRET_KEY = "another secret of another site, of fifty signs or so"
    assert second_step.secret_of(row) != shared


def test_it_is_turned_on_once(person, app):
    with pytest.raises(ValidationError, match="on already"):
        second_step.prepare(user=person)
    with pytest.raises(ValidationError, match="no longer up to date"):
        second_step.turn_on(user=person, code=app())


def test_codes_are_of_signs_that_nobody_takes_for_one_another():
    assert not set("O0QIL1JB8S5Z2UVMGD") & set(SIGNS) and len(set(SIGNS)) == len(SIGNS)
    made = {make_code(12) for _ in range(200)}
    assert len(made) == 200 and all(re.fullmatch(rf"(?:[{SIGNS}]{{4}}-){{2}}[{SIGNS}]{{4}}", code) for code in made)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_one_code_given_twice_at_once_lets_in_once(person, clock):
    step = second_step.prepare(user=person)
    shows = second_step.totp_of(second_step.secret_of(step))
    papers = second_step.turn_on(user=person, code=shows.at(clock.now))
    clock.now += 60
    for code in (shows.at(clock.now), papers[0]):
        said = []

        def give_it(code=code, said=said):
            try:
                said.append(second_step.take_code(user=person, code=code))
            finally:
                connection.close()

        threads = [Thread(target=give_it) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert said.count("") == 1 and len(said) == 4
