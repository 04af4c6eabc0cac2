"""Whoever comes second at the settings of a person keeps what the first stored, and nothing is there twice."""

from __future__ import annotations

import pytest

from farmbuild.access import account, second_step, weekly
from farmbuild.access.models import PaperCode, WeeklySheet
from farmbuild.access.second_step import PAPER_CODES
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_how_a_person_reads_stays(person):
    def save(**reads):
        return lambda: account.save_person(user=person, first_name="Ann", email="ann@example.org", **reads)

    comes_second(save(large_letters=True), save(units="metric"))
    person.refresh_from_db()
    assert (person.large_letters, person.units) == (True, "metric")


def test_the_week_is_wanted_once(person, organisation):
    def want():
        weekly.save_wanted(user=person, organisations=[organisation])

    comes_second(want, want)
    assert WeeklySheet.objects.filter(user=person).count() == 1


def test_the_second_step_is_turned_on_once_with_one_set_of_codes(person, clock):
    comes_second(lambda: second_step.prepare(user=person), lambda: second_step.prepare(user=person))
    shows = second_step.totp_of(second_step.secret_of(second_step.step_of(user=person)))

    def turn_on():
        second_step.turn_on(user=person, code=shows.at(clock.now))

    def anew():
        second_step.new_papers(user=person)

    assert "no longer up to date" in comes_second(turn_on, turn_on)
    comes_second(anew, anew)
    assert PaperCode.objects.filter(user=person).count() == PAPER_CODES
