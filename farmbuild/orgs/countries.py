"""What a country usually works with: proposed for an organisation, never forced.

Codes and names of ISO 3166-1, currencies of ISO 4217, decimal signs as the Unicode common locale data have them for the
language most spoken there; all from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Country:
    code: str
    name: str
    currency: str
    decimal_sign: str

    @property
    def unit_system(self) -> str:
        """Feet and inches are customary in three countries alone; lumber and rail are sold by them in two more."""
        return "imperial" if self.code in _FEET else "metric"


_FEET = frozenset({"US", "LR", "MM", "CA"})
_POINT = """
AU Australia AUD; BD Bangladesh BDT; BW Botswana BWP; CA Canada CAD; CN China CNY; CR Costa_Rica CRC;
DO Dominican_Republic DOP; EG Egypt EGP; ET Ethiopia ETB; GB United_Kingdom GBP; GH Ghana GHS; GT Guatemala GTQ;
HK Hong_Kong HKD; HN Honduras HNL; IE Ireland EUR; IL Israel ILS; IN India INR; JM Jamaica JMD; JO Jordan JOD;
JP Japan JPY; KE Kenya KES; KR South_Korea KRW; KW Kuwait KWD; LI Liechtenstein CHF; LK Sri_Lanka LKR; LR Liberia LRD;
MM Myanmar MMK; MT Malta EUR; MX Mexico MXN; MY Malaysia MYR; NG Nigeria NGN; NI Nicaragua NIO; NP Nepal NPR;
NZ New_Zealand NZD; PA Panama PAB; PE Peru PEN; PH Philippines PHP; PK Pakistan PKR; PR Puerto_Rico USD;
SA Saudi_Arabia SAR; SG Singapore SGD; SV El_Salvador USD; TH Thailand THB; TW Taiwan TWD; TZ Tanzania TZS;
UG Uganda UGX; US United_States USD; ZM Zambia ZMW; ZW Zimbabwe USD; CH Switzerland CHF; BH Bahrain BHD; OM Oman OMR
"""
_COMMA = """
AL Albania ALL; AR Argentina ARS; AT Austria EUR; BA Bosnia_and_Herzegovina BAM; BE Belgium EUR; BG Bulgaria EUR;
BO Bolivia BOB; BR Brazil BRL; BY Belarus BYN; CL Chile CLP; CM Cameroon XAF; CO Colombia COP; CY Cyprus EUR;
CZ Czechia CZK; DE Germany EUR; DK Denmark DKK; DZ Algeria DZD; EC Ecuador USD; EE Estonia EUR; ES Spain EUR;
FI Finland EUR; FR France EUR; GE Georgia GEL; GR Greece EUR; HR Croatia EUR; HU Hungary HUF; ID Indonesia IDR;
IS Iceland ISK; IT Italy EUR; CI Ivory_Coast XOF; KZ Kazakhstan KZT; LT Lithuania EUR; LU Luxembourg EUR;
LV Latvia EUR; MA Morocco MAD; MD Moldova MDL; ME Montenegro EUR; MK North_Macedonia MKD; NL Netherlands EUR;
NO Norway NOK; PL Poland PLN; PT Portugal EUR; PY Paraguay PYG; RO Romania RON; RS Serbia RSD; RU Russia RUB;
RW Rwanda RWF; SE Sweden SEK; SI Slovenia EUR; SK Slovakia EUR; SN Senegal XOF; TN Tunisia TND; TR Türkiye TRY;
UA Ukraine UAH; UY Uruguay UYU; VE Venezuela VES; VN Vietnam VND; ZA South_Africa ZAR
"""


def _countries(rows: str, sign: str) -> list[Country]:
    fields = (row.split() for row in rows.split(";"))
    return [Country(code, name.replace("_", " "), currency, sign) for code, name, currency in fields]


COUNTRIES = {
    row.code: row for row in sorted(_countries(_POINT, ".") + _countries(_COMMA, ","), key=lambda one: one.name)
}
