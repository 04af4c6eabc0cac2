"""Movements from before amounts were kept get theirs by what one piece of the lot costs now, told as estimated.

Every lot stays worth what its page said, and what went into a place or out of a saw is what was taken there; what is
then missing is put to what had come in. Lots are gone through from the newest: what was moved or cut lies in a newer
one. Whole coins and whole numbers of pieces all through.
"""

from collections import defaultdict
from fractions import Fraction

from django.db import migrations

#: ISO 4217, as ``measure.places`` had them: decimals of currencies that do not have two.
_NO_PLACES = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE_PLACES = "BHD IQD JOD KWD LYD OMR TND"
_AT_ONCE = 500
_EDITED = "stock_movement_never_edited"
_WORDS = "a movement is never changed; reverse it by another"
#: Kinds whose pieces cost somebody something.
_BORNE = ("issue", "return", "scrap", "count")


def _half_up(exact: Fraction) -> int:
    return (abs(exact) * 2 + 1) // 2 * (1 if exact >= 0 else -1)


def _shares(whole: int, by: list[int]) -> list[int]:
    """In proportion, to the last one; what is left over goes to the largest remainders, ties to the first."""
    by = by if any(by) else [1] * len(by)
    exact = [Fraction(abs(whole) * part, sum(by)) for part in by]
    shares = [int(part) for part in exact]
    largest = sorted(range(len(by)), key=lambda at: (shares[at] - exact[at], at))
    for at in largest[: abs(whole) - sum(shares)]:
        shares[at] += 1
    return [share if whole >= 0 else -share for share in shares]


def amounts_of(rows, unit: Fraction, settled: dict[int, int]) -> dict[int, int]:
    """Whole coins of each movement of a lot, by key, ``unit`` coins a piece.

    ``rows``: key, kind, pieces, key of what it reverses, in their order. ``settled``: what is known of movements out
    of the lot from what came of them.
    """
    reversals = {key: reverses for key, _, _, reverses in rows if reverses}
    undone = set(reversals.values())
    found: dict[int, int] = {}
    pieces, worth = 0, 0
    for key, _, quantity, reverses in rows:
        if key in undone:
            found[key] = settled.get(key, _half_up(unit * quantity))
        elif reverses:
            found[key] = -found[reverses]
        else:
            pieces += quantity
            found[key], worth = _half_up(unit * pieces) - worth, _half_up(unit * pieces)
    kept = [row for row in rows if row[0] not in undone and not row[3]]
    missing = sum(found[key] - settled[key] for key, *_ in kept if key in settled)
    found |= {key: settled[key] for key, *_ in kept if key in settled}
    if missing:
        came = [row for row in kept if row[2] > 0]
        bought = [row for row in came if row[1] in ("receive", "move", "cut", "count")]
        for some in (bought, came):
            total = sum(found[key] for key, *_ in some) + missing
            if some and total >= 0:
                for row, share in zip(some, _shares(total, [row[2] for row in some]), strict=True):
                    found[row[0]] = share
                break
    return found


def _guard(schema_editor, *, up: bool) -> None:
    if schema_editor.connection.vendor == "postgresql":
        made = f" BEFORE UPDATE ON stock_movement FOR EACH ROW EXECUTE FUNCTION {_EDITED}()"
        schema_editor.execute(
            f"CREATE TRIGGER {_EDITED}{made}" if up else f"DROP TRIGGER {_EDITED} ON stock_movement", params=None
        )
        return
    schema_editor.execute(
        f"CREATE TRIGGER {_EDITED} BEFORE UPDATE ON stock_movement FOR EACH ROW WHEN 1 = 1"
        f" BEGIN SELECT RAISE(ABORT, '{_EDITED}: {_WORDS}'); END"
        if up
        else f"DROP TRIGGER {_EDITED}",
        params=None,
    )


def _coins(schema_editor, apps) -> None:
    Lot, Movement = apps.get_model("stock", "Lot"), apps.get_model("stock", "Movement")
    lots = list(Lot.objects.order_by("-pk").values_list("pk", "unit_cost", "on_hand", "organisation__currency"))
    settled: dict[int, int] = {}
    came_of_cuts: dict[int, int] = defaultdict(int)
    for start in range(0, len(lots), _AT_ONCE):
        some = lots[start : start + _AT_ONCE]
        rows = defaultdict(list)
        moved = Movement.objects.filter(lot__in=[lot for lot, *_ in some]).order_by("pk")
        for lot, *row in moved.values_list("lot", "pk", "kind", "quantity", "reverses", "moved_from", "cut"):
            rows[lot].append(row)
        amounts, values = [], []
        for lot, unit_cost, _, currency in some:
            places = 0 if currency in _NO_PLACES else 3 if currency in _THREE_PLACES else 2
            thousandths = 10 ** (3 - places)
            mine = rows[lot]
            taken = {
                key: -came_of_cuts[cut]
                for key, kind, quantity, reverses, _, cut in mine
                if kind == "cut" and quantity < 0 and not reverses
            }
            known = {key: settled[key] for key, *_ in mine if key in settled} | taken
            found = amounts_of([row[:4] for row in mine], Fraction(unit_cost) * 10**places, known)
            for key, kind, quantity, reverses, moved_from, cut in mine:
                if not reverses and quantity > 0 and moved_from:
                    settled[moved_from] = -found[key]
                if not reverses and quantity > 0 and kind == "cut":
                    came_of_cuts[cut] += found[key]
            amounts += [(found[key] * thousandths, key) for key, *_ in mine]
            value = sum(found.values())
            basis = (0, 0)
            if value != _half_up(Fraction(unit_cost) * 10**places * (held := sum(row[2] for row in mine))):
                basis = (value, held)
            values.append((value * thousandths, basis[0] * thousandths, basis[1], lot))
        with schema_editor.connection.cursor() as cursor:
            if amounts:
                cursor.executemany("UPDATE stock_movement SET amount = %s, estimated = (1 = 1) WHERE id = %s", amounts)
            cursor.executemany(
                "UPDATE stock_lot SET value = %s, basis_value = %s, basis_pieces = %s WHERE id = %s", values
            )


def _houses(schema_editor, apps) -> None:
    """Who bore them: the house, the houses of the batch by their hoops, or general expense."""
    Movement = apps.get_model("stock", "Movement")
    BatchSticks, BatchHouse = apps.get_model("hoops", "BatchSticks"), apps.get_model("hoops", "BatchHouse")
    CountFind = apps.get_model("stock", "CountFind")
    found = set(CountFind.objects.filter(lot__isnull=False).values_list("lot", flat=True))
    batches = dict(BatchSticks.objects.values_list("movement", "batch"))
    hoops = defaultdict(list)
    for batch, house, count in BatchHouse.objects.order_by("house__need_date", "house__slug").values_list(
        "batch", "house", "hoops"
    ):
        hoops[batch].append((house, count))
    currencies = dict(Movement.objects.values_list("lot", "lot__organisation__currency").distinct())
    first: set[int] = set()
    fresh, of = [], {}
    rows = Movement.objects.order_by("pk").values_list("pk", "lot", "kind", "quantity", "amount", "house", "reverses")
    for key, lot, kind, quantity, amount, house, reverses in rows.iterator(chunk_size=2000):
        begins = lot not in first
        first.add(lot)
        if reverses:
            mine = [(house, -pieces, -coins) for house, pieces, coins in of.get(reverses, ())]
        elif kind not in _BORNE or (kind == "count" and begins and lot not in found):
            continue
        elif (batch := batches.get(key)) and hoops[batch]:
            currency = currencies[lot]
            coin = 1000 if currency in _NO_PLACES else 1 if currency in _THREE_PLACES else 10
            by = [count for _, count in hoops[batch]]
            pieces = _shares(-quantity * 1000, by)
            money = _shares(-int(amount * 1000) // coin, by)
            mine = [
                (house, part, coins * coin) for (house, _), part, coins in zip(hoops[batch], pieces, money, strict=True)
            ]
        else:
            mine = [(house, -quantity * 1000, -int(amount * 1000))]
        of[key] = mine
        fresh += [(key, *share) for share in mine]
    with schema_editor.connection.cursor() as cursor:
        for start in range(0, len(fresh), _AT_ONCE):
            cursor.executemany(
                "INSERT INTO stock_costshare (movement_id, house_id, quantity, amount) VALUES (%s, %s, %s, %s)",
                fresh[start : start + _AT_ONCE],
            )


def give_amounts(apps, schema_editor) -> None:
    _guard(schema_editor, up=False)
    _coins(schema_editor, apps)
    _guard(schema_editor, up=True)
    _houses(schema_editor, apps)


class Migration(migrations.Migration):
    dependencies = [("stock", "0012_amounts"), ("hoops", "0013_what_is_known_of_a_bender")]

    operations = [migrations.RunPython(give_amounts, migrations.RunPython.noop)]
