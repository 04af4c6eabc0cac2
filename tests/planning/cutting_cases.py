"""An independent checker of cut plans, an exhaustive planner for tiny cases, and published kinds of instances.

Nothing here uses the planner's own modules beyond its public names.
"""

from __future__ import annotations

import csv
import itertools
import random
from collections import Counter
from collections.abc import Sequence

from farmbuild.planning.cutting import CutPlan, Piece, Stock
from tests.where import OPEN_DATA

DATA = OPEN_DATA / "cutting"

#: Cutting-stock worked example in wide circulation (sticks of 5600, 13 widths, least number 73); from memory.
WORKED_STICK = 5600
WORKED_OPTIMUM = 73
WORKED_WIDTHS = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}


def faults(
    pieces: Sequence[Piece], stock: Sequence[Stock], plan: CutPlan, *, kerf: int = 0, keep_from: int = 0
) -> list[str]:
    """Everything wrong with a plan, worked out anew from its layouts. Labels and refs have to be unique."""
    found = []
    length = {p.label: p.length for p in pieces}
    sticks = {s.ref: s for s in stock}
    cut: Counter[str] = Counter()
    drawn: Counter[str] = Counter()
    kept: Counter[tuple[int, str]] = Counter()
    cost = 0
    for layout in plan.layouts:
        stick = sticks[layout.stock_ref]
        if layout.stock_length != stick.length:
            found.append(f"{layout}: the stick is {stick.length} long")
        if layout.times < 1 or not layout.labels:
            found.append(f"{layout}: cuts nothing")
        total = sum(length[label] for label in layout.labels)
        between = kerf * (len(layout.labels) - 1)
        if total + between > stick.length:
            found.append(f"{layout}: {total + between} does not fit")
        left = max(0, stick.length - total - between - kerf)
        if layout.remainder != left:
            found.append(f"{layout}: {left} is left")
        if left and left >= keep_from:
            kept[left, layout.stock_ref] += layout.times
        for label in layout.labels:
            cut[label] += layout.times
        drawn[layout.stock_ref] += layout.times
        cost += stick.unit_cost * layout.times
    short = Counter({p.label: p.quantity for p in plan.unmet})
    for piece in pieces:
        if cut[piece.label] + short[piece.label] != piece.quantity:
            found.append(f"{piece}: {cut[piece.label]} cut, {short[piece.label]} unmet")
    found += [
        f"{ref}: {n} drawn" for ref, n in drawn.items() if (have := sticks[ref].quantity) is not None and n > have
    ]
    if cost != plan.cost:
        found.append(f"cost is {cost}, not {plan.cost}")
    if not 0 <= plan.bound <= plan.cost:
        found.append(f"bound {plan.bound} against cost {plan.cost}")
    if plan.optimal and plan.bound != plan.cost:
        found.append("called best but bound and cost differ")
    if Counter({(o.length, o.stock_ref): o.quantity for o in plan.offcuts}) != kept:
        found.append(f"offcuts should be {kept}")
    return found


def try_everything(pieces: Sequence[Piece], stock: Sequence[Stock], kerf: int = 0) -> tuple[int, int]:
    """(fewest unmet pieces, least cost with so few) by trying every filling of every stick, one after another."""
    lengths = sorted({p.length for p in pieces})
    demand = tuple(sum(p.quantity for p in pieces if p.length == n) for n in lengths)
    every = sum(demand)
    sticks = sorted(
        (s.length, s.unit_cost) for s in stock for _ in range(every if s.quantity is None else min(s.quantity, every))
    )
    least = {demand: 0}
    for length, cost in sticks:
        after = dict(least)
        for open_, paid in least.items():
            for counts in itertools.product(*(range(n + 1) for n in open_)):
                cuts = sum(counts)
                used = sum(k * n for k, n in zip(counts, lengths, strict=True)) + kerf * (cuts - 1)
                if cuts and used <= length:
                    rest = tuple(n - k for n, k in zip(open_, counts, strict=True))
                    after[rest] = min(after.get(rest, paid + cost), paid + cost)
        least = after
    return min((sum(rest), paid) for rest, paid in least.items())


def rows(lengths: Sequence[int], stick: int) -> tuple[list[Piece], list[Stock]]:
    """One piece row a distinct length, and sticks of one length at a cost of 1 each: counting sticks."""
    counted = Counter(lengths)
    return [Piece(n, q, str(n)) for n, q in sorted(counted.items(), reverse=True)], [Stock(stick, None, 1, "stick")]


def published() -> list[tuple[str, list[Piece], list[Stock], int]]:
    """The instances of the data folder with their proven optimum; empty where the folder is absent."""
    if not DATA.is_dir():
        return []
    out = []
    with (DATA / "optimum.csv").open(newline="") as handle:
        for row in csv.DictReader(handle):
            numbers = [int(word) for word in (DATA / f"{row['instance']}.txt").read_text().split()]
            stick, pairs = numbers[1], numbers[2:]
            lengths = [n for n, q in zip(pairs[::2], pairs[1::2], strict=True) for _ in range(q)]
            assert row["proven_lower_bound"] == row["best_known"]
            out.append((row["instance"], *rows(lengths, stick), int(row["best_known"])))
    return out


def uniform(n: int, seed: int) -> tuple[list[int], int]:
    """Falkenauer's uniform class: sizes 20 to 100, capacity 150."""
    rng = random.Random(seed)
    return [rng.randint(20, 100) for _ in range(n)], 150


def triplets(n: int, seed: int) -> tuple[list[int], int]:
    """Falkenauer's triplet class: capacity 1000, every three pieces made to fill a stick exactly."""
    rng = random.Random(seed)
    out = []
    for _ in range(n // 3):
        first = rng.randint(380, 490)
        second = rng.randint(250, (1000 - first) // 2)
        out += [first, second, 1000 - first - second]
    return out, 1000


def schwerin(n: int, seed: int) -> tuple[list[int], int]:
    """Schwerin and Waescher's class: sizes 150 to 200, capacity 1000."""
    rng = random.Random(seed)
    return [rng.randint(150, 200) for _ in range(n)], 1000


def scholl_wide(seed: int) -> tuple[list[int], int]:
    """Scholl, Klein and Juergens' third class: 200 sizes 20000 to 35000, capacity 100000."""
    rng = random.Random(seed)
    return [rng.randint(20_000, 35_000) for _ in range(200)], 100_000


def scholl_even(n: int, each: int, spread: float, seed: int) -> tuple[list[int], int]:
    """Their second class: about ``each`` pieces a stick of 1000, sizes within ``spread`` of the mean."""
    rng = random.Random(seed)
    mean = 1000 / each
    return [rng.randint(int(mean * (1 - spread)), int(mean * (1 + spread))) for _ in range(n)], 1000


def waescher(n: int, low: int, high: int, seed: int) -> tuple[list[int], int]:
    """Waescher and Gau's kind: capacity 10000 and a wide range of sizes."""
    rng = random.Random(seed)
    return [rng.randint(low, high) for _ in range(n)], 10_000


def hard_mix(n: int, seed: int) -> tuple[list[int], int]:
    """Sizes 1 to 800, capacity 1000, the range of the hard28 set."""
    rng = random.Random(seed)
    return [rng.randint(1, 800) for _ in range(n)], 1000


def without_round_up(threes: int, stick: int, seed: int) -> tuple[list[int], int]:
    """Lengths whose fractional optimum is often whole while no plan reaches it.

    One piece for each edge of the Petersen graph, as long as its two vertices together; all ten vertices fill a
    stick. Sticks are then perfect matchings: six halves cover all edges with three sticks, but three matchings
    that share no edge do not exist (the construction of Caprara, Dell'Amico, Diaz-Diaz, Iori and Rizzi, 2015).
    Triplets that fill a stick exactly make it larger.
    """
    rng = random.Random(seed)
    edges = [(i, (i + 1) % 5) for i in range(5)] + [(i, i + 5) for i in range(5)]
    edges += [(5 + i, 5 + (i + 2) % 5) for i in range(5)]
    mean = stick // 10
    while True:
        vertices = [mean + rng.randint(-mean // 4, mean // 4) for _ in range(9)]
        vertices.append(stick - sum(vertices))
        if abs(vertices[9] - mean) < mean // 3:
            break
    out = [vertices[a] + vertices[b] for a, b in edges]
    for _ in range(threes):
        first, second = (rng.randint(stick * 35 // 100, stick * 49 // 100) for _ in range(2))
        out += [first, second, stick - first - second]
    return out, stick


def splits_exactly(lengths: Sequence[int], stick: int) -> bool:
    """Whether the lengths split into sticks without any waste, by plain search for an exact cover."""
    order = sorted(lengths, reverse=True)
    full = (1 << len(order)) - 1

    def fills(start: int, room: int, used: int, free: int) -> list[int]:
        if room == 0:
            return [used]
        return [
            fill
            for i in range(start, len(order))
            if free >> i & 1 and order[i] <= room
            for fill in fills(i + 1, room - order[i], used | 1 << i, free)
        ]

    seen: dict[int, bool] = {0: True}

    def cover(free: int) -> bool:
        if free not in seen:
            first = (free & -free).bit_length() - 1
            seen[free] = any(cover(free & ~fill) for fill in fills(first + 1, stick - order[first], 1 << first, free))
        return seen[free]

    return cover(full)


def shop(
    lengths: int, sticks: int, offcuts: int, pieces: int, *, seed: int, unit: int = 1, offcut_cost: int = 0
) -> tuple[list[Piece], list[Stock]]:
    """A shop: several stick lengths at prices of our own, many different offcuts on hand."""
    rng = random.Random(seed)
    each = sorted(rng.sample(range(200, 2000), lengths))
    marks = sorted(rng.randint(0, pieces) for _ in range(lengths - 1))
    wanted = [b - a for a, b in zip([0, *marks], [*marks, pieces], strict=True)]
    stock = [
        Stock(n * unit, None, int(n * rng.uniform(0.9, 1.1)), f"new {n}") for n in (2400, 3000, 3600, 6000)[:sticks]
    ]
    stock += [
        Stock(rng.randint(200, 3000) * unit, rng.randint(1, 2), offcut_cost, f"offcut {k}") for k in range(offcuts)
    ]
    return [Piece(n * unit, q, f"piece {n}") for n, q in zip(each, wanted, strict=True)], stock


def season_of_cuts(seed: int) -> tuple[list[Piece], list[Stock], int]:
    """The case of a season: 10 to 60 piece lengths, 2 to 6 stick lengths, the last one scarce in every second case,
    offcuts on hand that cost less than new pipe, and the kerf; mm."""
    rng = random.Random(seed)
    sticks = sorted(rng.sample((2400, 3000, 3048, 3600, 4800, 6000, 6401, 7300), rng.randint(2, 6)))
    longest = sticks[0] if seed % 3 else sticks[-1]
    lengths = sorted(rng.sample(range(150, longest - 50), rng.randint(10, 60)))
    pieces = [Piece(n, rng.choice((1, 2, 4, 8, 13, 26, 40)), f"piece {n}") for n in lengths]
    stock = [Stock(n, None, round(n * rng.uniform(0.9, 1.15)), f"new {n}") for n in sticks]
    if seed % 2 and longest < sticks[-1]:
        stock[-1] = Stock(sticks[-1], rng.randint(1, 20), stock[-1].unit_cost * 3 // 4, f"scarce {sticks[-1]}")
    for k in range(rng.randint(3, 25)):
        n = rng.randint(150, sticks[-1])
        stock.append(Stock(n, rng.randint(1, 4), n // 2, f"offcut {k}"))
    return pieces, stock, rng.choice((2, 3))
