"""Addresses of this app."""

from django.urls import path

from farmbuild.catalogue import views

app_name = "catalogue"
urlpatterns = [
    path("materials/", views.materials, name="materials"),
    path("materials/new/", views.material_new, name="material-new"),
    path("materials/add-shipped/", views.add_starting, name="add-starting"),
    path("materials/<slug:code>/sizes/", views.material_sizes, name="material-sizes"),
    path("materials/<slug:code>/edit/", views.material, name="material"),
    path("suppliers/", views.suppliers, name="suppliers"),
    path("suppliers/new/", views.supplier_new, name="supplier-new"),
    path("suppliers/<slug:code>/offers/", views.supplier, name="supplier"),
    path("suppliers/<slug:code>/edit/", views.supplier_edit, name="supplier-edit"),
    path("suppliers/<slug:code>/offers/new/", views.offer_new, name="offer-new"),
    path("suppliers/<slug:code>/offers/<int:pk>/", views.offer, name="offer"),
    path("suppliers/<slug:code>/offers/<int:pk>/remove/", views.offer_remove, name="offer-remove"),
]
