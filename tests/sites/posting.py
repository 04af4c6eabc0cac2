"""What a browser would send for a house form."""

from __future__ import annotations

from django.core.cache import cache
from django.test import Client
from django.urls import reverse


def sent_by(form) -> dict[str, str]:
    """The data of an unbound form as the browser would post it back unchanged."""
    data = {}
    for bound in form:
        value = bound.value()
        if value is None or value is False:
            continue
        value = bound.field.prepare_value(value)
        data[bound.html_name] = "on" if value is True else str(value)
    return data


def edit_data(client: Client, house) -> dict[str, str]:
    """Open the edit page and take what it holds; of a page that is kept the form would not be made."""
    cache.clear()
    response = client.get(reverse("sites:house-edit", args=[house.slug]))
    assert response.status_code == 200
    return sent_by(response.context["form"])
