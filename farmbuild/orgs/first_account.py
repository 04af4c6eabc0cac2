"""The first account of a database: whoever sets the site up, with the organisation of their own."""

from __future__ import annotations

from importlib import resources

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import Q
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.orgs.accounts import add_person, create_organisation
from farmbuild.orgs.countries import COUNTRIES, Country
from farmbuild.orgs.models import RESERVED, Organisation, User

#: Letters and figures that nobody takes for one another.
_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
#: Of PostgreSQL's locks by number: two first accounts at once.
_LOCK = 20270201


def is_open() -> bool:
    """Nobody but the people of invented seasons signs in here yet."""
    real = Q(memberships=None) | Q(memberships__organisation__invented=False)
    return not User.objects.filter(real, visitor=False).exists()


def nobody_signs_in() -> bool:
    """Not even the people of an invented season."""
    return not User.objects.exists()


def set_up_code() -> str:
    """What a server prints for whoever sets it up; it ends with the first account."""
    mac = salted_hmac("farmbuild.orgs.first_account", "first account", algorithm="sha256").digest()
    letters = "".join(_LETTERS[byte % len(_LETTERS)] for byte in mac[:8])
    return f"{letters[:4]}-{letters[4:]}"


def needs_code() -> bool:
    """A site that answers to other machines asks for the code that its own machine printed."""
    return bool(settings.PUBLIC_HOSTS)


def code_is_right(typed: str) -> bool:
    plain = typed.strip().upper().replace(" ", "").replace("-", "")
    return constant_time_compare(plain, set_up_code().replace("-", ""))


def usual_zone(country: Country | None) -> str:
    """The first time zone that the zone database lists for a country; UTC where it is not known."""
    if country is None:
        return "UTC"
    table = (resources.files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if not line.startswith("#"))
    return next((row[2] for row in rows if row[0] == country.code), "UTC")


@transaction.atomic
def open_first_account(
    *, name: str, username: str, password: str, organisation: str, country: str, unit_system: str = ""
) -> User:
    """The organisation with what is usual in its country, and its owner, who may use the administration too.

    Raises ValidationError by field; ``__all__`` where somebody was quicker.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
    if not is_open():
        raise ValidationError(gettext("Someone has set this server up already. Sign in, or ask them to add you."))
    usual = COUNTRIES.get(country)
    given = {} if usual is None else {"currency": usual.currency, "decimal_sign": usual.decimal_sign}
    units = unit_system or (usual.unit_system if usual else Organisation.Units.IMPERIAL)
    try:
        row = create_organisation(
            name=organisation,
            slug=free_slug(organisation[:40], taken_in=Organisation.objects.all(), fallback="farm", reserved=RESERVED),
            country=country,
            unit_system=units,
            time_zone=usual_zone(usual),
            **given,
        )
    except ValidationError as error:
        told = {"organisation" if field == "name" else field: said for field, said in error.message_dict.items()}
        raise ValidationError(told) from error
    try:
        validate_password(password, User(username=username, first_name=name))
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
    try:
        User.username_validator(username)
    except ValidationError as error:
        raise ValidationError({"username": gettext("Type letters, figures and . @ + - _ without spaces.")}) from error
    return add_person(
        organisation=row,
        username=username,
        password=password,
        first_name=name,
        is_staff=True,
        is_superuser=True,
    )
