"""Readable addresses made from names."""

import re
from collections.abc import Collection, Iterable
from itertools import count

from django.db.models import QuerySet
from django.utils.text import slugify

_LONGEST = 100
#: Of a short name, before it is numbered on.
_LONGEST_CODE = 50
#: What parts the figures of a size: 1-3/8, 33.7, 32 × 1,5.
_PARTS = re.compile(r"[/.,×]")


def free_slug(name: str, *, taken_in: QuerySet, fallback: str, reserved: frozenset[str] = frozenset()) -> str:
    """The name as an address, numbered on where another row of ``taken_in`` has it.

    A name with no Latin letters or figures gives ``fallback``. ``reserved`` are words that pages use.
    """
    stem = _stem(name, fallback)
    return _free(stem, set(taken_in.filter(slug__startswith=stem).values_list("slug", flat=True)) | reserved)


def free_code(name: str, *, taken_in: QuerySet, fallback: str, reserved: frozenset[str] = frozenset()) -> str:
    """A short name of at most 60 signs that no row of ``taken_in`` has: 1-3/8 rail gives 1-3-8-rail."""
    stem = _stem(_PARTS.sub("-", name), fallback)[:_LONGEST_CODE].strip("-")
    return _free(stem, set(taken_in.filter(code__startswith=stem).values_list("code", flat=True)) | reserved)


def free_slugs(
    names: Iterable[str], *, taken_in: QuerySet, fallback: str, reserved: frozenset[str] = frozenset()
) -> list[str]:
    """The same for several names at once, no address twice; one query."""
    taken = set(taken_in.values_list("slug", flat=True)) | reserved
    slugs = []
    for name in names:
        slugs.append(_free(_stem(name, fallback), taken))
        taken.add(slugs[-1])
    return slugs


def _stem(name: str, fallback: str) -> str:
    return slugify(name)[:_LONGEST].strip("-") or fallback


def _free(stem: str, taken: Collection[str]) -> str:
    if stem not in taken:
        return stem
    return next(slug for number in count(2) if (slug := f"{stem}-{number}") not in taken)
