"""Which work waits for which: order, circles, and what is left when some of it falls away."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Wait:
    """``step`` starts no sooner than ``lag`` minutes of real time after ``after`` has ended."""

    step: str
    after: str
    lag: int = 0


def circle_in(waits: Collection[Wait]) -> tuple[str, ...]:
    """Steps that wait for each other in a circle: each waits for the next, the last for the first; () for none."""
    afters: dict[str, list[str]] = {}
    for wait in waits:
        afters.setdefault(wait.step, []).append(wait.after)
    done: set[str] = set()
    for start in afters:
        path: list[str] = []
        todo = [(start, False)]
        while todo:
            step, leaving = todo.pop()
            if leaving:
                path.pop()
                done.add(step)
            elif step in path:
                return tuple(path[path.index(step) :])
            elif step not in done:
                path.append(step)
                todo.append((step, True))
                todo.extend((after, False) for after in reversed(afters.get(step, ())))
    return ()


def in_order(steps: Sequence[str], waits: Iterable[Wait]) -> list[str]:
    """Each step after all that it waits for, else as given. Raises ValueError when they wait in a circle."""
    held: dict[str, set[str]] = {step: set() for step in steps}
    for wait in waits:
        if wait.step in held and wait.after in held:
            held[wait.step].add(wait.after)
    out: list[str] = []
    while len(out) < len(steps):
        free = next((step for step in steps if step not in out and held[step] <= set(out)), None)
        if free is None:
            raise ValueError("the steps wait for each other in a circle")
        out.append(free)
    return out


def without(waits: Collection[Wait], gone: Collection[str]) -> tuple[Wait, ...]:
    """What waited for a step that is gone waits for what that step waited for, lags added up.

    As if the gone step took no time at all: the order of those that stay, and every lag between them, is kept.
    Raises ValueError when they wait in a circle.
    """
    lags = {(wait.step, wait.after): 0 for wait in waits}
    for wait in waits:
        lags[wait.step, wait.after] = max(wait.lag, lags[wait.step, wait.after])
    if circle_in(waits):
        raise ValueError("the steps wait for each other in a circle")
    for lost in gone:
        before = [(after, lag) for (step, after), lag in lags.items() if step == lost]
        behind = [(step, lag) for (step, after), lag in lags.items() if after == lost]
        for step, lag in behind:
            for after, more in before:
                lags[step, after] = max(lag + more, lags.get((step, after), 0))
        lags = {pair: lag for pair, lag in lags.items() if lost not in pair}
    return tuple(Wait(step, after, lag) for (step, after), lag in lags.items())


def waits_for(step: str, other: str, waits: Iterable[Wait]) -> bool:
    """Whether ``step`` comes after ``other``, straight or through others."""
    afters: dict[str, list[str]] = {}
    for wait in waits:
        afters.setdefault(wait.step, []).append(wait.after)
    todo, seen = [step], {step}
    while todo:
        for after in afters.get(todo.pop(), ()):
            if after == other:
                return True
            if after not in seen:
                seen.add(after)
                todo.append(after)
    return False
