"""Calendars against a plain walk slot by slot."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.scheduling.calendar import Calendar, all_of
from farmbuild.planning.scheduling.inputs import Resource, Window

LAST = 60


@st.composite
def windows(draw: st.DrawFn) -> tuple[Window, ...]:
    edges = sorted(draw(st.sets(st.integers(0, LAST), max_size=12)))
    found = [Window(a, b, draw(st.integers(0, 3))) for a, b in itertools.pairwise(edges)]
    return tuple(window for window in found if draw(st.integers(0, 3)))


def walked(there: list[bool], start: int, duration: int, pauses: bool) -> int | None:
    """Day by day: the end of a task that starts at ``start``, or None when it cannot."""
    if duration == 0:
        return start
    if start >= len(there) or not there[start]:
        return None
    done, slot = 0, start
    while done < duration:
        if slot >= len(there):
            return None
        if there[slot]:
            done += 1
        elif not pauses:
            return None
        slot += 1
    return slot


def _there(one: Resource, amount: int, other: Resource, other_amount: int) -> tuple[Calendar, list[bool]]:
    def at(resource: Resource, slot: int) -> int:
        return next((w.capacity for w in resource.windows or () if w.start <= slot < w.end), 0)

    slots = [at(one, slot) >= amount and at(other, slot) >= other_amount for slot in range(LAST)]
    return all_of([one, other], [amount, other_amount]), slots


@given(windows(), windows(), st.integers(1, 3), st.integers(1, 2), st.integers(0, 12), st.booleans())
def test_ends_and_pieces_are_those_of_a_walk(
    one: tuple[Window, ...], other: tuple[Window, ...], amount: int, other_amount: int, duration: int, pauses: bool
) -> None:
    calendar, there = _there(Resource("a", 3, one), amount, Resource("b", 3, other), other_amount)
    ends = {
        slot: end for slot in range(LAST) if (end := walked(there, slot, duration, pauses)) is not None and end <= LAST
    }
    assert [calendar.works(slot) for slot in range(LAST)] == there
    assert [calendar.worked_before(slot) for slot in range(LAST + 1)] == [sum(there[:slot]) for slot in range(LAST + 1)]
    assert {
        slot: piece.length + slot
        for piece in calendar.pieces(0, LAST - 1, duration, pauses)
        for slot in range(piece.first, piece.last + 1)
    } == ends
    for slot in range(LAST):
        assert calendar.end(slot, duration, pauses) == ends.get(slot)
        later = [start for start in ends if start >= slot]
        found = calendar.earliest(slot, duration, pauses)
        assert found == ((later[0], ends[later[0]]) if later else None)
        if duration:
            sooner = [start for start in ends if ends[start] <= slot]
            found = calendar.latest(slot, duration, pauses)
            assert found == ((sooner[-1], ends[sooner[-1]]) if sooner else None)


def test_a_task_goes_on_after_the_night() -> None:
    day = [Window(8, 17, 2), Window(32, 41, 2)]
    calendar = all_of([Resource("crew", 2, tuple(day))], [2])
    assert calendar.earliest(15, 4, pauses=True) == (15, 34)
    assert calendar.earliest(15, 4, pauses=False) == (32, 36)
    assert calendar.earliest(17, 1, pauses=True) == (32, 33)
    assert calendar.latest(34, 4, pauses=True) == (15, 34)
    assert calendar.earliest(32, 10, pauses=True) is None
