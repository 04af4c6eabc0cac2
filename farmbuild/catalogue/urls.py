"""Addresses of this app."""

from django.urls import path

from farmbuild.catalogue.lists import views as lists
from farmbuild.catalogue.prices import views as prices
from farmbuild.catalogue.views import materials, offers, suppliers, wanted

app_name = "catalogue"
urlpatterns = [
    path("materials/", materials.materials, name="materials"),
    path("materials/new/", materials.material_new, name="material-new"),
    path("materials/add-shipped/", materials.add_starting, name="add-starting"),
    path("materials/<slug:code>/sizes/", materials.material_sizes, name="material-sizes"),
    path("materials/<slug:code>/prices/", prices.prices, name="material-prices"),
    path("materials/<slug:code>/edit/", materials.material, name="material"),
    path("materials/<slug:code>/archive/", materials.archive, name="material-archive"),
    path("materials/<slug:code>/bring-back/", materials.bring_back, name="material-bring-back"),
    path("materials/<slug:code>/offer/", wanted.offer_wanted, name="offer-wanted"),
    path("suppliers/", suppliers.suppliers, name="suppliers"),
    path("suppliers/new/", suppliers.supplier_new, name="supplier-new"),
    path("suppliers/<slug:code>/offers/", suppliers.supplier, name="supplier"),
    path("suppliers/<slug:code>/lead-time/", suppliers.lead_time, name="lead-time"),
    path("suppliers/<slug:code>/lists/prices.xlsx", lists.xlsx, name="list-xlsx"),
    path("suppliers/<slug:code>/lists/prices.csv", lists.csv_text, name="list-csv"),
    path("suppliers/<slug:code>/lists/new/", lists.send, name="list-new"),
    path("suppliers/<slug:code>/lists/<int:pk>/", lists.show, name="list"),
    path("suppliers/<slug:code>/edit/", suppliers.supplier_edit, name="supplier-edit"),
    path("suppliers/<slug:code>/offers/new/", offers.offer_new, name="offer-new"),
    path("suppliers/<slug:code>/offers/<int:pk>/", offers.offer, name="offer"),
    path("suppliers/<slug:code>/offers/<int:pk>/remove/", offers.offer_remove, name="offer-remove"),
]
