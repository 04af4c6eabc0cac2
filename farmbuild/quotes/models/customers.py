"""For whom houses are built."""

from __future__ import annotations

from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.columns import moment


class Customer(OrgOwned):
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    contact = models.CharField(gettext_lazy("whom to ask for"), max_length=120, blank=True)
    email = models.EmailField("e-mail", blank=True)
    phone = models.CharField(max_length=60, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    archived_at = moment()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="customer_slug_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("quotes:customer", args=[self.slug])
