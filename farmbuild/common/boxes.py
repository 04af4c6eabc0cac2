"""Fields and boxes of a form, put together here and not by templates: a form of a house has ninety of them.

What Django's own templates of these boxes say is said here to the letter (``tests/common/test_boxes.py`` compares);
a box with a template of its own keeps it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext

from farmbuild.common.markup import escaped

#: Where the renderer finds the field; there is no such template.
FIELD = "forms/field"
_OPTION = "django/forms/widgets/select_option.html"


def _attributes(attributes: Mapping[str, Any]) -> str:
    return "".join(
        f" {escaped(name)}" if value is True else f' {escaped(name)}="{escaped(value)}"'
        for name, value in attributes.items()
        if value is not False
    )


def _value(value: Any) -> str:
    return "" if value is None else f' value="{escaped(value)}"'


def input_box(widget: Mapping[str, Any]) -> str:
    """One line, a tick, or a file."""
    start = f'<input type="{escaped(widget["type"])}" name="{escaped(widget["name"])}"'
    return f"{start}{_value(widget['value'])}{_attributes(widget['attrs'])}>"


def number_box(widget: Mapping[str, Any]) -> str:
    """A text box: a browser's number box throws away what it cannot read, and turns with the mouse wheel."""
    start = f'<input type="text" autocomplete="off" name="{escaped(widget["name"])}"'
    return f"{start}{_value(widget['value'])}{_attributes(widget['attrs'])}>"


def length_box(widget: Mapping[str, Any]) -> str:
    """With its unit, and room for what was understood."""
    unit = identity = ""
    if widget["unit"]:
        if widget["attrs"].get("id"):
            identity = f' id="{escaped(widget["attrs"]["id"])}_unit"'
        unit = f'<span class="unit"{identity}>{escaped(widget["unit"])}</span>'
    return f'<span class="with-unit">{input_box(widget)}{unit}</span><span class="echo" data-echo role="status"></span>'


def money_box(widget: Mapping[str, Any]) -> str:
    return f'{input_box(widget)}<span class="echo" data-echo role="status"></span>'


def _option(option: Mapping[str, Any]) -> str:
    if option["template_name"] != _OPTION:
        return render_to_string(option["template_name"], {"widget": option})
    start = f'<option value="{escaped(option["value"])}"{_attributes(option["attrs"])}>'
    return f"{start}{escaped(option['label'])}</option>"


def select_box(widget: Mapping[str, Any]) -> str:
    parts = [f'<select name="{escaped(widget["name"])}"{_attributes(widget["attrs"])}>']
    for group, options, _at in widget["optgroups"]:
        if group:
            parts.append(f'\n  <optgroup label="{escaped(group)}">')
        parts += [f"\n  {_option(option)}" for option in options]
        if group:
            parts.append("\n  </optgroup>")
    return "".join((*parts, "\n</select>"))


#: By the name of the template that a widget asks for.
BOXES: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    **{
        f"django/forms/widgets/{kind}.html": input_box
        for kind in ("text", "hidden", "checkbox", "date", "email", "password", "url", "file", "time")
    },
    "django/forms/widgets/number.html": number_box,
    "django/forms/widgets/select.html": select_box,
    "forms/length_input": length_box,
    "forms/money_input": money_box,
}


def field_group(field: Any) -> str:
    """A field with its label, help and errors; ``field``: a bound one."""
    tick = field.widget_type == "checkbox"
    errors, shown = field.errors, str(field)
    css = f"field{' wrong' if errors else ''}{' tick' if tick else ''}"
    parts = [f'<div class="{css}">']
    if field.use_fieldset:
        described = field.aria_describedby
        parts.append(f'<fieldset aria-describedby="{described}">' if described else "<fieldset>")
    label = escaped(field.label)
    named = f'<label for="{field.id_for_label}">{label}</label>'
    if tick:
        parts.append(f'<div class="tick-line">{shown}{named}</div>')
    elif field.label:
        named = f"<legend>{label}</legend>" if field.use_fieldset else named
        parts.append(f'<div class="label-line">{named}{_optional(field.field)}</div>')
    if field.help_text:
        parts.append(f'<div class="help"{_identity(field, "helptext")}>{escaped(field.help_text)}</div>')
    if errors:
        said = "".join(f"<p>{escaped(error)}</p>" for error in errors)
        icon = render_to_string("parts/warning_icon.html")
        parts.append(f'<div class="errors"{_identity(field, "error")}>{icon}<div>{said}</div></div>')
    if not tick:
        parts.append(shown)
    if errors and (readings := getattr(field.field, "readings", ())):
        parts.append(f'<div class="readings">{_readings(field.html_name, readings)}</div>')
    parts.append("</fieldset></div>" if field.use_fieldset else "</div>")
    return "\n".join(parts)


def _optional(field: Any) -> str:
    if field.required or getattr(field, "wanted", False) or field.widget.attrs.get("disabled"):
        return ""
    words = gettext("optional")
    return f' <span class="optional">{words}</span>'


def _identity(field: Any, of: str) -> str:
    return f' id="{field.auto_id}_{of}"' if field.auto_id else ""


def _readings(name: str, readings: Any) -> str:
    said = map(escaped, readings)
    return "".join(f'\n  <button name="meant-{name}" value="{one}">{one}</button>' for one in said)
