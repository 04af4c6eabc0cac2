"""What a house has already: taken out of its needs, row by row, before the yard and the suppliers are asked.

Pieces that were handed out for a purpose serve that first, then whatever else of the house they fit. Whole sticks and
counted things serve rows of their own length; pieces serve cuts of their length, as far as a tape shows it, and what
is longer is cut down, the longest piece first into the shortest stick that takes it. What a hoop was bent of serves
hoops alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from farmbuild.measure import TAPE_STEP, UnitSystem
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.inputs import InHouse
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.cuts import FULL_SHARE
from farmbuild.planning.netting.joints import MoreJoints
from farmbuild.planning.netting.runs import Option, cheapest_run
from farmbuild.planning.results import AlreadyThere, SeasonPlan, TakeoffRow, TooMuch

ZERO = Decimal(0)
#: A piece cut at the line of a tape, or typed as it is shown, is off by half a sixteenth of an inch at most.
HALF_LINE = TAPE_STEP[UnitSystem.IMPERIAL] / 2


@dataclass
class _Pile:
    """Equal pieces, handed out for one purpose ("": not said), with how many are still unused."""

    what: InHouse
    left: int

    def take(self, quantity: int) -> int:
        taken = min(self.left, quantity)
        self.left -= taken
        return taken

    def serves(self, row: TakeoffRow, *, own: bool) -> bool:
        if self.what.material != row.material or self.left <= 0:
            return False
        if own:
            return self.what.purpose == row.purpose
        return not self.what.bent


@dataclass
class _Row:
    """A take-off row with what it still wants."""

    row: TakeoffRow
    left: int

    @property
    def cut(self) -> bool:
        return not self.row.whole and self.row.length is not None


@dataclass
class Covered:
    """``rows``: the take-off less what is there, in its order. Lengths in mm. ``more``: by house, the joints that the
    sticks there make beyond those of the spec's sticks, where there are any."""

    rows: list[TakeoffRow] = field(default_factory=list)
    there: list[AlreadyThere] = field(default_factory=list)
    too_much: list[TooMuch] = field(default_factory=list)
    more: dict[str, MoreJoints] = field(default_factory=dict)


def subtract_in_house(
    takeoff: Sequence[TakeoffRow], pieces: Iterable[InHouse], materials: Mapping[str, Material], kerf: Decimal
) -> Covered:
    """Take what the houses have out of what they need.

    Parameters
    ----------
    takeoff
        Rows of any number of houses; only the houses' own pieces serve them.
    kerf
        mm that a saw takes at each cut; a knife takes nothing off film.

    Returns
    -------
    Covered
        What is still wanted; a run of channel that is there in part is wanted in the length that is missing.
    """
    out = Covered()
    by_house: dict[str, list[_Pile]] = {}
    for piece in pieces:
        by_house.setdefault(piece.house, []).append(_Pile(piece, piece.quantity))
    for house in dict.fromkeys(row.house for row in takeoff):
        rows = [row for row in takeoff if row.house == house]
        if house in by_house:
            _of_house(out, rows, by_house.pop(house), materials, kerf)
        else:
            out.rows += rows
    for piles in by_house.values():
        out.too_much += _left_over(piles)
    return out


def _of_house(
    out: Covered, rows: list[TakeoffRow], piles: list[_Pile], materials: Mapping[str, Material], kerf: Decimal
) -> None:
    wanted = [_Row(row, row.quantity) for row in rows]
    plain = [one for one in wanted if not (one.cut and materials[one.row.material].butted)]
    for one in plain:
        if one.row.run and (more := _joined(one, piles)):
            out.more.setdefault(one.row.house, MoreJoints()).count(one.row.purpose, more)
    for cut, off in ((False, ZERO), (True, ZERO), (True, HALF_LINE)):
        for own in (True, False):
            for one in plain:
                if one.cut == cut:
                    _equal(one, piles, own=own, off=off)
    runs = {id(one): _run(one, piles) for one in wanted if one not in plain}
    for material in dict.fromkeys(one.row.material for one in plain if one.cut):
        knife = materials[material].kind is Kind.FILM
        _cut_down([one for one in plain if one.cut and one.row.material == material], piles, ZERO if knife else kerf)
    for one in wanted:
        row = one.row
        parts = runs.get(id(one), [(row.length, one.left)])
        there = [(row.length, row.quantity - one.left)]
        there += [(row.length - length, n) for length, n in parts if row.length and length and length < row.length]
        for length, quantity in there:
            if quantity:
                out.there.append(AlreadyThere(row.house, row.purpose, row.material, length, quantity))
        for length, quantity in parts:
            if quantity or not row.quantity:
                out.rows.append(
                    row if quantity == row.quantity and length == row.length else _less(row, length, quantity)
                )
    out.too_much += _left_over(piles)


def _less(row: TakeoffRow, length: Decimal | None, quantity: int) -> TakeoffRow:
    # The sticks that are missing are those at the ends of the runs, whose plain end is sawn off.
    return replace(row, length=length, quantity=quantity, trims=min(row.trims, quantity))


def rows_to_trim(plan: SeasonPlan) -> list[TakeoffRow]:
    """Joined runs with ends that are still to be sawn off; what its house has already is not counted again."""
    there: Counter[tuple[str, str, str, Decimal | None]] = Counter()
    for one in plan.already_there:
        there[one.house, one.purpose, one.material, one.length] += one.quantity
    rows = [
        _less(row, row.length, row.quantity - there[row.house, row.purpose, row.material, row.length])
        for row in plan.takeoff
        if row.trims
    ]
    return [row for row in rows if row.trims]


def _equal(one: _Row, piles: list[_Pile], *, own: bool, off: Decimal) -> None:
    """Pieces of the row's own length, give or take ``off``; a stick without its swage joins nothing."""
    for pile in piles:
        equal = abs((pile.what.length or ZERO) - (one.row.length or ZERO)) <= off
        if equal and pile.serves(one.row, own=own) and (one.cut or not pile.what.offcut):
            one.left -= pile.take(one.left)


def _joined(one: _Row, piles: list[_Pile]) -> int:
    """Whole sticks of any length that were handed out for joined runs, as sticks of the row's own that they save.

    Run by run they are joined with sticks of the row's own as a plan chooses them; what is left then takes the place of
    more of these, where it does. How many more sticks they are than those that they save: so many more joints.
    """
    row = one.row
    assert row.length is not None
    given = [pile for pile in piles if pile.serves(row, own=True) and not pile.what.offcut and pile.what.length]
    if all(pile.what.length == row.length for pile in given):
        return 0
    before = sum(pile.left for pile in given)
    adds = row.length - row.slide
    runs, rest = divmod(row.quantity, ceil_ratio(row.run - row.slide, adds))
    fresh = Option(row.length, adds, None, rank=1)
    #: Of each run the row's own sticks that it still wants, and what is made too long.
    open_: list[tuple[int, Decimal]] = []
    for missing in [rest * adds] * bool(rest) + [row.run - row.slide] * runs:
        have: Counter[Decimal] = Counter()
        for pile in given:
            have[pile.what.length or ZERO] += pile.left
        options = [Option(long, FULL_SHARE * (long - row.slide), n) for long, n in sorted(have.items()) if n]
        made = cheapest_run(missing + row.slide, row.slide, [*options, fresh]) or {}
        for option, n in made.items():
            if option != fresh:
                _draw(given, option.length, n)
        over = sum((n * (option.length - row.slide) for option, n in made.items()), -missing)
        open_.append((made.get(fresh, 0), over))
    for pile in given:
        size = (pile.what.length or ZERO) - row.slide
        while pile.left:
            saved, at = max((min(n, int((over + size) // adds)), -k) for k, (n, over) in enumerate(open_))
            if saved <= 0:
                break
            n, over = open_[-at]
            open_[-at] = (n - saved, over + size - saved * adds)
            pile.take(1)
    one.left = sum(n for n, _ in open_)
    return before - sum(pile.left for pile in given) - (row.quantity - one.left)


def _draw(piles: Iterable[_Pile], length: Decimal, quantity: int) -> None:
    for pile in piles:
        if pile.what.length == length:
            quantity -= pile.take(quantity)


def _run(one: _Row, piles: list[_Pile]) -> list[tuple[Decimal | None, int]]:
    """What is still wanted of runs that are butted from any lengths: length and how many."""
    assert one.row.length is not None
    length, quantity = one.row.length, one.left
    have = ZERO
    for pile in sorted(piles, key=lambda pile: (pile.what.purpose != one.row.purpose, -(pile.what.length or ZERO))):
        own = pile.what.purpose == one.row.purpose
        if not pile.what.length or not pile.serves(one.row, own=own):
            continue
        missing = length * quantity - have
        if missing <= 0:
            break
        have += pile.what.length * pile.take(ceil_ratio(missing, pile.what.length))
    done = min(quantity, int(have // length))
    rest = have - done * length if done < quantity else ZERO
    one.left = quantity - done
    if rest:
        return [(length, one.left - 1), (length - rest, 1)]
    return [(length, one.left)]


def _cut_down(rows: list[_Row], piles: list[_Pile], kerf: Decimal) -> None:
    """Longer pieces serve shorter cuts: the longest cut first, from the shortest stick that it fits."""
    started: list[Decimal] = []
    ordered = sorted((one for one in rows if one.left), key=lambda one: -(one.row.length or ZERO))
    for one in ordered:
        length = one.row.length or ZERO
        while one.left:
            fits = [rest for rest in started if rest >= length]
            if fits:
                rest = min(fits)
                started.remove(rest)
            else:
                longer = [
                    pile for pile in piles if pile.serves(one.row, own=False) and (pile.what.length or ZERO) > length
                ]
                if not longer:
                    break
                pile = min(longer, key=lambda pile: pile.what.length or ZERO)
                pile.take(1)
                rest = pile.what.length or ZERO
            started.append(max(ZERO, rest - length - kerf))
            one.left -= 1


def _left_over(piles: list[_Pile]) -> Iterator[TooMuch]:
    for pile in piles:
        if pile.left:
            what = pile.what
            yield TooMuch(what.house, what.purpose, what.material, what.length, pile.left, what.offcut, what.bent)
