"""Addresses under the stock whose pages look at plans as well."""

from django.urls import include, path

from farmbuild.plans.reserving.views import holds

urlpatterns = [
    path("stock/held/", holds.held, name="held"),
    path("stock/held/<int:pk>/", holds.one, name="held-one"),
    path("stock/held/<int:pk>/release/", holds.release, name="held-release"),
    path("stock/held/<int:pk>/cut/", holds.cut, name="held-cut"),
    path("stock/held/<int:pk>/swap/<int:other>/", holds.swap, name="swap"),
    path("stock/availability/", include("farmbuild.plans.availability.urls")),
    path("stock/season-end/", include("farmbuild.plans.seasonend.urls")),
]
