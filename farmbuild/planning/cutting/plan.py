"""Cut plans: which pieces to cut from which stick, at least cost, with a proven lower bound.

Lengths are whole numbers on one grid and costs whole numbers of the smallest coin, so a plan is exact. A
kerf lies between cuts: k pieces need k - 1 kerfs when they end the stick exactly, otherwise k, the last of
which may run off the end. The methods (pattern generation and its dual bound: Gilmore and Gomory,
Operations Research 9, 1961) live in the other modules of this package.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from farmbuild.planning.cutting.search import Outcome, solve

#: Largest length, quantity or cost of a row.
LARGEST = 10**15
#: Told the share of the time allowed that is gone (0 to 1) and what is being done.
#: Share of the limit gone and what is done; True as the answer ends the search, with the best so far.
Progress = Callable[[float, str], bool | None]


@dataclass(frozen=True)
class Piece:
    """So many pieces of one length. Labels need not be unique; pieces of equal length are planned together."""

    length: int
    quantity: int
    label: str


@dataclass(frozen=True)
class Stock:
    """Sticks of one length. ``quantity`` None: can be bought without limit. ``unit_cost`` 0: already paid
    for.
    """

    length: int
    quantity: int | None
    unit_cost: int
    ref: str


@dataclass(frozen=True)
class Layout:
    """The cuts of one stick, longest piece first, made ``times`` times. ``remainder`` is what is left of
    each.
    """

    stock_ref: str
    stock_length: int
    labels: tuple[str, ...]
    times: int
    remainder: int


@dataclass(frozen=True)
class Offcut:
    """Remainders that go back into stock."""

    length: int
    quantity: int
    stock_ref: str


@dataclass(frozen=True)
class CutPlan:
    """The plan, what it costs, and the least that any plan can cost (``bound``, proven)."""

    layouts: tuple[Layout, ...]
    cost: int
    bound: int
    optimal: bool
    offcuts: tuple[Offcut, ...]
    unmet: tuple[Piece, ...]
    method: str
    #: Work that was done, in units of ``plan_cuts``'s effort.
    effort: float = 0.0

    @property
    def gap(self) -> float:
        """How much of the cost might at most be saved, 0 to 1."""
        return (self.cost - self.bound) / self.cost if self.cost > self.bound else 0.0


def plan_cuts(
    pieces: Sequence[Piece],
    stock: Sequence[Stock],
    *,
    kerf: int = 0,
    keep_from: int = 0,
    time_limit: float = 10.0,
    effort: float | None = None,
    progress: Progress | None = None,
) -> CutPlan:
    """Plan the cuts of ``pieces`` from ``stock`` at least cost.

    Parameters
    ----------
    pieces, stock
        Lengths on one whole-number grid (say, micrometres). Both may be empty.
    kerf
        Width of the saw cut on the same grid.
    keep_from
        Remainders of at least this length (and more than nothing) are listed in ``offcuts``.
    time_limit
        Seconds. The work is measured by counting, so the same input gives the same plan on a busy machine
        too; the clock only cuts in at the limit, and ``method`` then says so.
    effort
        Work that may be done: one is about a third of a second of an idle core. None: half as much again as the
        time limit's number, so that a machine half as fast still keeps off the clock. Less of it with a time limit
        well above gives a plan that does not depend on the clock on any machine.
    progress
        Called now and then with the share of the limit gone and a few words; True as its answer ends the search,
        with the best so far.

    Returns
    -------
    CutPlan
        Pieces longer than every stick, and those that limited stock cannot serve, are in ``unmet``: as many
        pieces as can be are served, and those at least cost.

    Raises
    ------
    ValueError
        A length, quantity, cost, kerf or limit that is no whole number in range; the message names the row.
    """
    _check(pieces, stock, kerf, keep_from, time_limit)
    if effort is not None and not effort > 0:
        raise ValueError(f"effort: give a number above 0, not {effort!r}")
    outcome = solve(
        [(p.length + kerf, p.quantity) for p in pieces],
        [(s.length + kerf, s.unit_cost, s.quantity) for s in stock],
        time_limit=time_limit,
        effort=effort,
        progress=progress,
    )
    return _as_plan(pieces, stock, kerf, keep_from, outcome)


def _check(pieces: Sequence[Piece], stock: Sequence[Stock], kerf: int, keep_from: int, time_limit: float) -> None:
    for n, piece in enumerate(pieces, 1):
        where = f"piece {n} ({piece.label!r})"
        _whole(piece.length, 1, f"{where}: length")
        _whole(piece.quantity, 0, f"{where}: quantity")
    for n, stick in enumerate(stock, 1):
        where = f"stock row {n} ({stick.ref!r})"
        _whole(stick.length, 1, f"{where}: length")
        if stick.quantity is not None:
            _whole(stick.quantity, 0, f"{where}: quantity")
        _whole(stick.unit_cost, 0, f"{where}: unit cost")
    _whole(kerf, 0, "kerf")
    _whole(keep_from, 0, "shortest offcut to keep")
    if isinstance(time_limit, bool) or not isinstance(time_limit, int | float) or not time_limit > 0:
        raise ValueError(f"time limit: give a number of seconds above 0, not {time_limit!r}")


def _whole(value: object, least: int, what: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= LARGEST:
        raise ValueError(f"{what}: give a whole number from {least} to {LARGEST:.0e}, not {value!r}")


def _as_plan(pieces: Sequence[Piece], stock: Sequence[Stock], kerf: int, keep_from: int, outcome: Outcome) -> CutPlan:
    waiting: dict[int, list[tuple[int, int]]] = {}
    for n, piece in enumerate(pieces):
        if piece.quantity:
            waiting.setdefault(piece.length + kerf, []).append((n, piece.quantity))
    for queue in waiting.values():
        queue.reverse()
    layouts: dict[tuple[int, tuple[int, ...]], int] = {}
    for stick, sizes, times in outcome.cuts:
        for owners, reps in _hand_out(waiting, sizes, times):
            layouts[stick, owners] = layouts.get((stick, owners), 0) + reps
    rows: list[Layout] = []
    offcuts: dict[tuple[int, int], int] = {}
    cost = 0
    for (n, owners), times in layouts.items():
        stick_row = stock[n]
        used = sum(pieces[o].length + kerf for o in owners)
        remainder = max(0, stick_row.length - used)
        rows.append(Layout(stick_row.ref, stick_row.length, tuple(pieces[o].label for o in owners), times, remainder))
        cost += stick_row.unit_cost * times
        if remainder > 0 and remainder >= keep_from:
            key = (n, remainder)
            offcuts[key] = offcuts.get(key, 0) + times
    short: dict[int, int] = {}
    for queue in waiting.values():
        for n, count in queue:
            short[n] = short.get(n, 0) + count
    return CutPlan(
        layouts=tuple(rows),
        cost=cost,
        bound=min(outcome.bound, cost),
        optimal=outcome.bound >= cost and outcome.most_served,
        offcuts=tuple(
            Offcut(length, count, stock[n].ref)
            for (n, length), count in sorted(offcuts.items(), key=lambda row: (-row[0][1], row[0][0]))
        ),
        unmet=tuple(Piece(pieces[n].length, short[n], pieces[n].label) for n in sorted(short)),
        method=outcome.method,
        effort=outcome.effort,
    )


def _hand_out(
    waiting: dict[int, list[tuple[int, int]]], sizes: tuple[tuple[int, int], ...], times: int
) -> list[tuple[tuple[int, ...], int]]:
    """Give the pieces of a pattern their owners, in input order; equal sticks in a row stay one layout."""
    out = []
    while times:
        reps = min(times, *(waiting[size][-1][1] // k for size, k in sizes))
        whole = reps > 0
        reps = max(reps, 1)
        owners: list[int] = []
        for size, k in sizes:
            queue = waiting[size]
            need = k
            while need:
                owner, count = queue.pop()
                take = min(need, count)
                owners += [owner] * take
                used = take * reps if whole else take
                if count > used:
                    queue.append((owner, count - used))
                need -= take
        out.append((tuple(owners), reps))
        times -= reps
    return out
