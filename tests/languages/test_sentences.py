"""Whatever planning says of a house has Spanish, a text that is chosen or put together on the way too."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, replace
from decimal import Decimal
from unittest.mock import patch

from farmbuild.measure import UnitSystem, speech
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.work.counting import count_work
from tests.languages.catalogue import messages_of
from tests.planning.seasons import BY_CODE, LOW, TWELVE, TWENTY, house

_WORD = re.compile(r"[A-Za-z]{2,}")
_PLACE = re.compile(r"%\(\w+\)s")


@contextmanager
def texts() -> Iterator[set[str]]:
    """Of all sentences that are made inside, those with a word of their own."""
    found: set[str] = set()

    class Heard(speech.Sentence):
        __slots__ = ()

        def __setattr__(self, name: str, value: object) -> None:
            super().__setattr__(name, value)
            if name == "text" and _WORD.search(_PLACE.sub("", str(value))):
                found.add(str(value))

    with patch.object(speech, "Sentence", Heard):
        yield found


def like(spec: HouseSpec) -> Iterator[HouseSpec]:
    """It, and one with each number far too small, odd, or far too large."""
    yield spec
    for field in fields(spec):
        was = getattr(spec, field.name)
        if isinstance(was, Decimal):
            odd = [Decimal(0), was * 3 / 2, Decimal(10) ** 6]
        elif isinstance(was, int) and not isinstance(was, bool):
            odd = [0, was + 2, 10**6]
        else:
            continue
        for number in odd:
            yield replace(spec, **{field.name: number})


def test_whatever_is_said_of_houses_has_spanish():
    known = {message.one for message in messages_of("es")} | {message.many for message in messages_of("es")}
    with texts() as found:
        for spec in (LOW, TWELVE, TWENTY):
            for each in like(spec):
                for units in UnitSystem:
                    if not check_spec(each, BY_CODE, units):
                        spec_remarks(each, BY_CODE, units)
                        take_off(house("h", each), BY_CODE, units)
                        count_work(house("h", each), BY_CODE, units)
    assert len(found) > 150
    assert found - known == set()


def test_a_text_that_is_put_together_is_heard():
    with texts() as found:
        speech.sentence(" ".join(["chosen", "here"]))
        speech.joined(", ", [speech.sentence("%(n)s rows", n=2), "kept"])
    assert found == {"chosen here", "%(n)s rows"}
