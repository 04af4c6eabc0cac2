"""Currencies to buy in: codes and names of ISO 4217, from memory; funds and metals are left out."""

from __future__ import annotations

_LISTED = """
AED UAE dirham; AFN afghani; ALL lek; AMD Armenian dram; ANG Netherlands Antillean guilder; AOA kwanza;
ARS Argentine peso; AUD Australian dollar; AWG Aruban florin; AZN Azerbaijan manat; BAM convertible mark;
BBD Barbados dollar; BDT taka; BGN Bulgarian lev; BHD Bahraini dinar; BIF Burundi franc; BMD Bermudian dollar;
BND Brunei dollar; BOB boliviano; BRL Brazilian real; BSD Bahamian dollar; BTN ngultrum; BWP pula;
BYN Belarusian ruble; BZD Belize dollar; CAD Canadian dollar; CDF Congolese franc; CHF Swiss franc; CLP Chilean peso;
CNY yuan renminbi; COP Colombian peso; CRC Costa Rican colon; CUP Cuban peso; CVE Cabo Verde escudo;
CZK Czech koruna; DJF Djibouti franc; DKK Danish krone; DOP Dominican peso; DZD Algerian dinar; EGP Egyptian pound;
ERN nakfa; ETB Ethiopian birr; EUR euro; FJD Fiji dollar; FKP Falkland Islands pound; GBP pound sterling; GEL lari;
GHS Ghana cedi; GIP Gibraltar pound; GMD dalasi; GNF Guinean franc; GTQ quetzal; GYD Guyana dollar;
HKD Hong Kong dollar; HNL lempira; HTG gourde; HUF forint; IDR rupiah; ILS new Israeli sheqel; INR Indian rupee;
IQD Iraqi dinar; IRR Iranian rial; ISK Icelandic krona; JMD Jamaican dollar; JOD Jordanian dinar; JPY yen;
KES Kenyan shilling; KGS som; KHR riel; KMF Comorian franc; KPW North Korean won; KRW won; KWD Kuwaiti dinar;
KYD Cayman Islands dollar; KZT tenge; LAK Lao kip; LBP Lebanese pound; LKR Sri Lanka rupee; LRD Liberian dollar;
LSL loti; LYD Libyan dinar; MAD Moroccan dirham; MDL Moldovan leu; MGA Malagasy ariary; MKD denar; MMK kyat;
MNT tugrik; MOP pataca; MRU ouguiya; MUR Mauritius rupee; MVR rufiyaa; MWK Malawi kwacha; MXN Mexican peso;
MYR Malaysian ringgit; MZN Mozambique metical; NAD Namibia dollar; NGN naira; NIO cordoba oro; NOK Norwegian krone;
NPR Nepalese rupee; NZD New Zealand dollar; OMR rial Omani; PAB balboa; PEN sol; PGK kina; PHP Philippine peso;
PKR Pakistan rupee; PLN zloty; PYG guarani; QAR Qatari rial; RON Romanian leu; RSD Serbian dinar; RUB Russian ruble;
RWF Rwanda franc; SAR Saudi riyal; SBD Solomon Islands dollar; SCR Seychelles rupee; SDG Sudanese pound;
SEK Swedish krona; SGD Singapore dollar; SHP Saint Helena pound; SLE leone; SOS Somali shilling; SRD Surinam dollar;
SSP South Sudanese pound; STN dobra; SVC El Salvador colon; SYP Syrian pound; SZL lilangeni; THB baht; TJS somoni;
TMT Turkmenistan manat; TND Tunisian dinar; TOP pa'anga; TRY Turkish lira; TTD Trinidad and Tobago dollar;
TWD new Taiwan dollar; TZS Tanzanian shilling; UAH hryvnia; UGX Uganda shilling; USD US dollar; UYU peso uruguayo;
UZS Uzbekistan sum; VES bolivar soberano; VND dong; VUV vatu; WST tala; XAF CFA franc of Central Africa;
XCD East Caribbean dollar; XOF CFA franc of West Africa; XPF CFP franc; YER Yemeni rial; ZAR rand; ZMW Zambian kwacha;
ZWG Zimbabwe gold
"""
#: Name by code, in the order of the codes.
CURRENCIES = dict(row.strip().split(" ", 1) for row in _LISTED.replace("\n", " ").split(";"))
