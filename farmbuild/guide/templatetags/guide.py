"""Tags of the guide's text: sizes in the reader's units, and links to the pages where a job is done."""

from __future__ import annotations

from django import template
from django.urls import reverse
from django.utils.html import format_html

register = template.Library()


@register.simple_tag(takes_context=True)
def either(context: template.Context, imperial: str, metric: str) -> str:
    """A size in feet and inches, or in metres."""
    return metric if context["units"] == "metric" else imperial


@register.simple_tag(takes_context=True)
def to(context: template.Context, name: str, words: str) -> str:
    """A link for whoever may go there, the name of the page for everybody else."""
    # Django looks for the name either way, so a page that is gone fails for all.
    href = reverse(name)
    return format_html('<a href="{}">{}</a>', href, words) if context.get("organisation") else words
