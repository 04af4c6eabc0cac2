"""Addresses of work templates, rates, and the work of a house."""

from django.urls import path

from farmbuild.crew.steps import views

urlpatterns = [
    path("crew/templates/", views.TemplateList.as_view(), name="templates"),
    path("crew/templates/new/", views.new_template, name="template-new"),
    path("crew/templates/<slug:slug>/", views.template, name="template"),
    path("crew/templates/<slug:slug>/edit/", views.edit_template, name="template-edit"),
    path("crew/templates/<slug:slug>/remove/", views.remove_template, name="template-remove"),
    path("crew/templates-standard/", views.add_standard, name="template-standard"),
    path("crew/rates/", views.rates, name="rates"),
    path("crew/rates/use/", views.use_rates, name="rates-use"),
    path("houses/<slug:slug>/tasks/", views.house_work, name="house-work"),
]
