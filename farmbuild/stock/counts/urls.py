"""Addresses of counts, under stock/counts/."""

from django.urls import path

from farmbuild.stock.counts.views import counts, imports, places, review, sheets

urlpatterns = [
    path("", counts.counts, name="counts"),
    path("start/", counts.start, name="count-start"),
    path("<int:number>/", counts.count, name="count"),
    path("<int:number>/sheets/", sheets.sheets, name="count-sheets"),
    path("<int:number>/sheets.xlsx", sheets.sheets_xlsx, name="count-xlsx"),
    path("<int:number>/places/<int:pk>/", places.place, name="count-place"),
    path("<int:number>/places/<int:pk>/found/", places.find, name="count-find"),
    path("<int:number>/places/<int:pk>/materials/", places.materials, name="count-materials"),
    path("<int:number>/found/<int:pk>/take-back/", places.take_back, name="count-take-back"),
    path("<int:number>/lines/<int:pk>/", places.line, name="count-line"),
    path("<int:number>/review/", review.review, name="count-review"),
    path("<int:number>/again/", review.again, name="count-again"),
    path("<int:number>/post/", review.post, name="count-post"),
    path("<int:number>/cancel/", counts.drop, name="count-drop"),
    path("<int:number>/import/", imports.upload, name="count-import"),
    path("<int:number>/import/<int:pk>/", imports.preview, name="count-import-preview"),
    path("<int:number>/import/<int:pk>/enter/", imports.store, name="count-import-store"),
]
