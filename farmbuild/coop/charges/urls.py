"""Addresses of charges."""

from django.urls import path

from farmbuild.coop.charges import views

urlpatterns = [
    path("cooperative/charges/", views.charges, name="charges"),
    path("cooperative/charges/post/", views.post, name="charges-post"),
    path("cooperative/charges/prices/", views.prices, name="charge-rates"),
    path("cooperative/charges/prices/new/", views.price, name="charge-rate-new"),
    path("cooperative/charges/prices/free-days/", views.free_days, name="free-days"),
    path("cooperative/bookings/<int:pk>/", views.booking, name="booking"),
    path("cooperative/bookings/<int:pk>/damage/", views.damage_new, name="damage-new"),
    path("cooperative/damage/<int:pk>/", views.damage, name="damage"),
    path("cooperative/damage/<int:pk>/dispute/", views.dispute, name="damage-dispute"),
]
