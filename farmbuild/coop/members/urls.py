"""Addresses of members and their farms."""

from django.urls import path

from farmbuild.coop.members.views import seen

urlpatterns = [
    path("cooperatives/<slug:lender>/", seen.show, name="seen"),
]
