"""What a country usually works with: proposed for an organisation, never forced.

Codes and names of ISO 3166-1, currencies of ISO 4217, decimal signs as the Unicode common locale data have them for the
language most spoken there; all from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from farmbuild.common.speaking import in_order


@dataclass(frozen=True)
class Country:
    code: str
    #: In English.
    name: str
    currency: str
    decimal_sign: str

    @property
    def unit_system(self) -> str:
        """Feet and inches are customary in three countries alone; lumber and rail are sold by them in two more."""
        return "imperial" if self.code in _FEET else "metric"


_FEET = frozenset({"US", "LR", "MM", "CA"})
_POINT = (
    ("AU", _("Australia"), "AUD"), ("BD", _("Bangladesh"), "BDT"), ("BW", _("Botswana"), "BWP"),
    ("CA", _("Canada"), "CAD"), ("CN", _("China"), "CNY"), ("CR", _("Costa Rica"), "CRC"),
    ("DO", _("Dominican Republic"), "DOP"), ("EG", _("Egypt"), "EGP"), ("ET", _("Ethiopia"), "ETB"),
    ("GB", _("United Kingdom"), "GBP"), ("GH", _("Ghana"), "GHS"), ("GT", _("Guatemala"), "GTQ"),
    ("HK", _("Hong Kong"), "HKD"), ("HN", _("Honduras"), "HNL"), ("IE", _("Ireland"), "EUR"),
    ("IL", _("Israel"), "ILS"), ("IN", _("India"), "INR"), ("JM", _("Jamaica"), "JMD"), ("JO", _("Jordan"), "JOD"),
    ("JP", _("Japan"), "JPY"), ("KE", _("Kenya"), "KES"), ("KR", _("South Korea"), "KRW"), ("KW", _("Kuwait"), "KWD"),
    ("LI", _("Liechtenstein"), "CHF"), ("LK", _("Sri Lanka"), "LKR"), ("LR", _("Liberia"), "LRD"),
    ("MM", _("Myanmar"), "MMK"), ("MT", _("Malta"), "EUR"), ("MX", _("Mexico"), "MXN"), ("MY", _("Malaysia"), "MYR"),
    ("NG", _("Nigeria"), "NGN"), ("NI", _("Nicaragua"), "NIO"), ("NP", _("Nepal"), "NPR"),
    ("NZ", _("New Zealand"), "NZD"), ("PA", _("Panama"), "PAB"), ("PE", _("Peru"), "PEN"),
    ("PH", _("Philippines"), "PHP"), ("PK", _("Pakistan"), "PKR"), ("PR", _("Puerto Rico"), "USD"),
    ("SA", _("Saudi Arabia"), "SAR"), ("SG", _("Singapore"), "SGD"), ("SV", _("El Salvador"), "USD"),
    ("TH", _("Thailand"), "THB"), ("TW", _("Taiwan"), "TWD"), ("TZ", _("Tanzania"), "TZS"), ("UG", _("Uganda"), "UGX"),
    ("US", _("United States"), "USD"), ("ZM", _("Zambia"), "ZMW"), ("ZW", _("Zimbabwe"), "USD"),
    ("CH", _("Switzerland"), "CHF"), ("BH", _("Bahrain"), "BHD"), ("OM", _("Oman"), "OMR"),
)  # fmt: skip
_COMMA = (
    ("AL", _("Albania"), "ALL"), ("AR", _("Argentina"), "ARS"), ("AT", _("Austria"), "EUR"),
    ("BA", _("Bosnia and Herzegovina"), "BAM"), ("BE", _("Belgium"), "EUR"), ("BG", _("Bulgaria"), "EUR"),
    ("BO", _("Bolivia"), "BOB"), ("BR", _("Brazil"), "BRL"), ("BY", _("Belarus"), "BYN"), ("CL", _("Chile"), "CLP"),
    ("CM", _("Cameroon"), "XAF"), ("CO", _("Colombia"), "COP"), ("CY", _("Cyprus"), "EUR"), ("CZ", _("Czechia"), "CZK"),
    ("DE", _("Germany"), "EUR"), ("DK", _("Denmark"), "DKK"), ("DZ", _("Algeria"), "DZD"), ("EC", _("Ecuador"), "USD"),
    ("EE", _("Estonia"), "EUR"), ("ES", _("Spain"), "EUR"), ("FI", _("Finland"), "EUR"), ("FR", _("France"), "EUR"),
    ("GE", _("Georgia"), "GEL"), ("GR", _("Greece"), "EUR"), ("HR", _("Croatia"), "EUR"), ("HU", _("Hungary"), "HUF"),
    ("ID", _("Indonesia"), "IDR"), ("IS", _("Iceland"), "ISK"), ("IT", _("Italy"), "EUR"),
    ("CI", _("Ivory Coast"), "XOF"), ("KZ", _("Kazakhstan"), "KZT"), ("LT", _("Lithuania"), "EUR"),
    ("LU", _("Luxembourg"), "EUR"), ("LV", _("Latvia"), "EUR"), ("MA", _("Morocco"), "MAD"),
    ("MD", _("Moldova"), "MDL"), ("ME", _("Montenegro"), "EUR"), ("MK", _("North Macedonia"), "MKD"),
    ("NL", _("Netherlands"), "EUR"), ("NO", _("Norway"), "NOK"), ("PL", _("Poland"), "PLN"),
    ("PT", _("Portugal"), "EUR"), ("PY", _("Paraguay"), "PYG"), ("RO", _("Romania"), "RON"), ("RS", _("Serbia"), "RSD"),
    ("RU", _("Russia"), "RUB"), ("RW", _("Rwanda"), "RWF"), ("SE", _("Sweden"), "SEK"), ("SI", _("Slovenia"), "EUR"),
    ("SK", _("Slovakia"), "EUR"), ("SN", _("Senegal"), "XOF"), ("TN", _("Tunisia"), "TND"), ("TR", _("Türkiye"), "TRY"),
    ("UA", _("Ukraine"), "UAH"), ("UY", _("Uruguay"), "UYU"), ("VE", _("Venezuela"), "VES"),
    ("VN", _("Vietnam"), "VND"), ("ZA", _("South Africa"), "ZAR"),
)  # fmt: skip
COUNTRIES = {
    code: Country(code, name, currency, sign)
    for sign, rows in ((".", _POINT), (",", _COMMA))
    for code, name, currency in rows
}


def country_choices() -> list[tuple[str, str]]:
    """Each by its name in the language of the page, in the order of that."""
    return sorted(((row.code, gettext(row.name)) for row in COUNTRIES.values()), key=lambda one: in_order(one[1]))
