"""Codes that are read from paper, or aloud, and typed: made at random, kept as digests."""

from __future__ import annotations

import secrets

from django.utils.crypto import salted_hmac

#: No two of these look alike, and few sound alike: without O, 0, Q and D; I, L, J and 1; B and 8; S and 5; Z and 2; U
#: and V; M; G.
SIGNS = "ACEFHKNPRTWXY34679"
_GROUP = 4


def make_code(signs: int) -> str:
    """In groups of four, such as "KA3F-7XWP"; each sign is worth a little more than four bits."""
    drawn = "".join(secrets.choice(SIGNS) for _ in range(signs))
    return "-".join(drawn[start : start + _GROUP] for start in range(0, signs, _GROUP))


def plain(typed: str) -> str:
    """As it is compared: however it was grouped and in whatever letters."""
    return "".join(sign for sign in typed.upper() if sign.isalnum())[:64]


def digest_of(secret: str, *, use: str, salt: str = "") -> str:
    """Keyed with the secret of the site: who has the database alone cannot try codes against it."""
    return salted_hmac(f"farmbuild.access.{use}", salt + secret, algorithm="sha256").hexdigest()
