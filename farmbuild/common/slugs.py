"""Readable addresses made from names."""

from django.db.models import QuerySet
from django.utils.text import slugify

_LONGEST = 100


def free_slug(name: str, *, taken_in: QuerySet, fallback: str, reserved: frozenset[str] = frozenset()) -> str:
    """The name as an address, numbered on where another row of ``taken_in`` has it.

    A name with no Latin letters or figures gives ``fallback``. ``reserved`` are words that pages use.
    """
    stem = slugify(name)[:_LONGEST].strip("-") or fallback
    taken = set(taken_in.filter(slug__startswith=stem).values_list("slug", flat=True)) | reserved
    if stem not in taken:
        return stem
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"
