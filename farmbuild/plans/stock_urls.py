"""Addresses under the stock whose pages look at plans as well."""

from django.urls import include, path

from farmbuild.plans.reserving.views import reservations

urlpatterns = [
    path("stock/held/", reservations.reservation_list, name="held"),
    path("stock/held/<int:pk>/", reservations.reservation, name="held-one"),
    path("stock/held/<int:pk>/release/", reservations.release, name="held-release"),
    path("stock/held/<int:pk>/cut/", reservations.cut, name="held-cut"),
    path("stock/held/<int:pk>/swap/<int:other>/", reservations.swap, name="swap"),
    path("stock/availability/", include("farmbuild.plans.availability.urls")),
    path("stock/season-end/", include("farmbuild.plans.seasonend.urls")),
]
