"""Addresses of this app."""

from django.urls import path

from farmbuild.stock import import_views, views

app_name = "stock"
urlpatterns = [
    path("stock/", views.lots, name="lots"),
    path("stock/receive/", views.receive, name="receive"),
    path("stock/lots/<int:pk>/", views.lot, name="lot"),
    path("stock/lots/<int:pk>/edit/", views.edit, name="lot-edit"),
    path("stock/lots/<int:pk>/count/", views.count, name="lot-count"),
    path("stock/lots/<int:pk>/scrap/", views.scrap, name="lot-scrap"),
    path("stock/places/", views.places, name="places"),
    path("stock/places/<int:pk>/", views.place, name="place"),
    path("stock/import/", import_views.upload, name="import"),
    path("stock/import/<int:pk>/", import_views.preview, name="import-preview"),
    path("stock/import/<int:pk>/store/", import_views.store, name="import-store"),
    path("stock/import/lots.xlsx", import_views.template_xlsx, name="template-xlsx"),
    path("stock/import/lots.csv", import_views.template_csv, name="template-csv"),
]
