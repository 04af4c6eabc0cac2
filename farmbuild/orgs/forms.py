"""Forms of the organisation itself and of a new password."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordForm
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.forms import OrgModelForm
from farmbuild.measure import CURRENCIES, UnitSystem
from farmbuild.measure.limits import kerf_problem
from farmbuild.orgs.countries import COUNTRIES, country_choices
from farmbuild.orgs.currency import why_fixed
from farmbuild.orgs.first_account import code_is_right, needs_code
from farmbuild.orgs.models import Language, Organisation

PASSWORD_HELP = format_lazy(
    _("{least} letters, figures or signs at least; not figures alone."), least=settings.MIN_PASSWORD
)
_AMOUNT = _("Type an amount of money, for example 2500, or leave it empty.")
_PERCENT = _("Type the tax in percent, from 0 to 100, for example 6.25.")

#: Zones and currencies stand as the standards name them, and whoever has the page read aloud hears them so.
_NAMED_IN_ENGLISH = {"lang": "en", "translate": "no"}
#: Of a country that is not on the list.
ELSEWHERE = "-"
_AREAS = (
    "Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific",
)  # fmt: skip


def zone_choices(kept: str) -> list[Any]:
    """Zones by area, UTC first; ``kept`` is on the list whatever it is."""
    zones = sorted(available_timezones())
    plain = [("UTC", "UTC")] + ([(kept, kept)] if kept != "UTC" and kept.split("/")[0] not in _AREAS else [])
    areas = [(area, [(zone, zone) for zone in zones if zone.startswith(f"{area}/")]) for area in _AREAS]
    return [*plain, *areas]


class OrganisationForm(OrgModelForm):
    time_zone = forms.ChoiceField(
        label=_("Time zone"),
        widget=forms.Select(attrs=_NAMED_IN_ENGLISH),
        help_text=_("Days, times and working hours are by the clocks of this zone. Planned work keeps its real time."),
    )

    country = forms.ChoiceField(
        label=_("Country"),
        required=False,
        choices=lambda: [("", _("Not on the list")), *country_choices()],
        help_text=_("Where you build and buy."),
    )

    currency = forms.ChoiceField(
        label=_("Currency"),
        widget=forms.Select(attrs=_NAMED_IN_ENGLISH),
        error_messages={"required": _("Choose the currency in which you buy.")},
    )

    groups = [
        (_("Who you are"), ["name", "country", "address", "contact"]),
        (_("Clock"), ["time_zone"]),
        (_("Language"), ["language"]),
        (_("Numbers and lengths"), ["decimal_sign", "unit_system", "kerf", "keep_from"]),
        (_("Money"), ["currency", "two_people_above"]),
        (_("Tax"), ["tax_name", "tax_percent", "prices_include_tax", "recovers_tax"]),
    ]

    class Meta:
        model = Organisation
        fields = [
            "name",
            "country",
            "address",
            "contact",
            "time_zone",
            "language",
            "decimal_sign",
            "unit_system",
            "kerf",
            "keep_from",
            "currency",
            "two_people_above",
            "tax_name",
            "tax_percent",
            "prices_include_tax",
            "recovers_tax",
        ]
        labels = {
            "name": _("Name"),
            "address": _("Address"),
            "contact": _("Contact"),
            "two_people_above": _("Orders above it need two people"),
            "tax_name": _("Name of the tax"),
            "tax_percent": _("Tax, percent"),
            "prices_include_tax": _("Supplier prices include the tax"),
            "recovers_tax": _("You get the tax on purchases back"),
        }
        help_texts = {
            "address": _("Stands on orders and quotes."),
            "contact": _("Whom a supplier may ring, and the number."),
            "language": _(
                "Of whoever chose none, and of labels, e-mails and calendars. Not all pages speak Spanish yet."
            ),
            "decimal_sign": _("What stands before cents. Numbers that could be read two ways are asked about."),
            "unit_system": _(
                "What lengths are shown in and what a bare number means. Kept lengths stay the same."
                " A usual saw cut or offcut becomes that of the new units."
            ),
            "kerf": _("What one cut of the saw takes away."),
            "keep_from": _("Shorter ends count as scrap."),
            "two_people_above": _("With delivery and tax. One asks, another sends. Empty: one is enough."),
            "tax_name": _("As it stands on orders, for example Sales tax."),
            "tax_percent": _("A material may have its own."),
            "prices_include_tax": _("Otherwise it is added to them. Orders made before keep their sums."),
            "recovers_tax": _("Then it is no cost of goods in stock. An invoice may say otherwise."),
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}
        error_messages = {
            "name": {"required": _("Type what the organisation is called.")},
            "two_people_above": {"invalid": _AMOUNT, "min_value": _AMOUNT},
            "tax_percent": {"required": _PERCENT, "invalid": _PERCENT, "min_value": _PERCENT, "max_value": _PERCENT},
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"].choices = [("", gettext("As each browser asks")), *Language.choices]
        self.fields["time_zone"].choices = zone_choices(self.instance.time_zone)
        self.fields["two_people_above"].label += f", {self.instance.currency}"
        self._offer_currencies()
        self._propose()

    def _offer_currencies(self) -> None:
        """All while nothing is priced; else the one that stays, and why."""
        field, own = self.fields["currency"], self.instance.currency
        known = {own: own} | CURRENCIES
        field.choices = [(code, f"{code}, {name}" if name != code else code) for code, name in sorted(known.items())]
        self.fixed = why_fixed(self.instance)
        field.help_text = self.fixed or gettext("What prices and orders are in. It stays once anything is priced.")
        if self.fixed:
            field.required = False
            field.widget.attrs["disabled"] = True

    def clean_currency(self) -> str:
        """A box that is locked sends nothing; what is chosen on a page from before is told of, not lost."""
        own, chosen = self.instance.currency, self.cleaned_data["currency"]
        if self.fixed and chosen not in ("", own):
            raise forms.ValidationError(self.fixed)
        return chosen or own

    def clean_kerf(self) -> Any:
        kerf = self.cleaned_data["kerf"]
        units = UnitSystem(self.cleaned_data.get("unit_system") or self.instance.unit_system)
        if kerf is not None and kerf != self.instance.kerf and (problem := kerf_problem(kerf, units)):
            raise forms.ValidationError(problem)
        return kerf

    def _propose(self) -> None:
        """Say what is usual in the country where something else is chosen."""
        if usual := COUNTRIES.get(self.instance.country):
            if usual.decimal_sign != self.instance.decimal_sign:
                sign = {".": gettext("point"), ",": gettext("comma")}[usual.decimal_sign]
                self.fields["decimal_sign"].help_text += gettext(" Usual in %(usual)s: a %(sign)s.") % {
                    "usual": usual.name,
                    "sign": sign,
                }
            if usual.unit_system != self.instance.unit_system:
                units = Organisation.Units(usual.unit_system).label.lower()
                self.fields["unit_system"].help_text += gettext(" Usual in %(usual)s: %(units)s.") % {
                    "usual": usual.name,
                    "units": units,
                }
            if usual.currency != self.instance.currency and not self.fixed:
                self.fields["currency"].help_text += gettext(" Usual in %(usual)s: %(currency)s.") % {
                    "usual": usual.name,
                    "currency": usual.currency,
                }


class FirstAccountForm(forms.Form):
    """Who sets the site up, and for whom."""

    name = forms.CharField(label=_("Your name"), max_length=150, error_messages={"required": _("Type your name.")})
    username = forms.CharField(
        label=_("Name to sign in with"),
        max_length=150,
        help_text=_("One word, for example your first name."),
        error_messages={"required": _("Type the name that you sign in with.")},
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
        help_text=PASSWORD_HELP,
        error_messages={"required": _("Type a password.")},
    )
    organisation = forms.CharField(
        label=_("Farm, cooperative or firm"),
        max_length=120,
        error_messages={"required": _("Type what your farm, cooperative or firm is called.")},
    )
    country = forms.ChoiceField(
        label=_("Country"),
        choices=lambda: [("", _("Choose a country")), *country_choices(), (ELSEWHERE, _("Another"))],
        help_text=_("Units, currency, decimal sign and clock follow it. You can change each later."),
        error_messages={
            "required": _("Choose the country in which you build."),
            "invalid_choice": _("This choice is not on the list any more. Choose one from the list."),
        },
    )
    code = forms.CharField(
        label=_("Set-up code"),
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
        help_text=_("The server printed it when it was started with manage.py start."),
        error_messages={"required": _("Type the set-up code that the server printed.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].widget.attrs["autocomplete"] = "name"
        self.fields["username"].widget.attrs |= {"autocomplete": "username", "autocapitalize": "none"}
        if not needs_code():
            del self.fields["code"]

    def clean_code(self) -> str:
        if not code_is_right(self.cleaned_data["code"]):
            raise forms.ValidationError(_("This is not the set-up code of this server. manage.py start prints it."))
        return self.cleaned_data["code"]

    def values(self) -> dict[str, str]:
        """For ``open_first_account``; after ``is_valid()``."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "code"}
        return data | {"country": "" if data["country"] == ELSEWHERE else data["country"]}


class PasswordForm(SetPasswordForm):
    error_messages = {"password_mismatch": _("These are not the same. Type the same password twice.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        first, second = self.fields["new_password1"], self.fields["new_password2"]
        first.label, second.label = _("Password"), _("The same once more")
        first.help_text, second.help_text = PASSWORD_HELP, ""
        first.error_messages["required"] = _("Type a password.")
        second.error_messages["required"] = _("Type the same password once more.")


class OwnPasswordForm(PasswordForm, PasswordChangeForm):
    """The one in use is asked too: a phone that was left lying gives nobody a password."""

    field_order = ["old_password", "new_password1", "new_password2"]
    error_messages = PasswordForm.error_messages | {
        "password_incorrect": _("This is not the password that you sign in with now.")
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        old, new = self.fields["old_password"], self.fields["new_password1"]
        old.label, new.label = _("Password now"), _("New password")
        old.error_messages["required"] = _("Type the password that you sign in with now.")
