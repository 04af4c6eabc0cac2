"""Addresses of work templates, rates, and the work of a house."""

from django.urls import path

from farmbuild.crew.steps.views import steps

urlpatterns = [
    path("crew/templates/", steps.TemplateList.as_view(), name="templates"),
    path("crew/templates/new/", steps.new_template, name="template-new"),
    path("crew/templates/<slug:slug>/", steps.template, name="template"),
    path("crew/templates/<slug:slug>/edit/", steps.edit_template, name="template-edit"),
    path("crew/templates/<slug:slug>/remove/", steps.remove_template, name="template-remove"),
    path("crew/templates-standard/", steps.add_standard, name="template-standard"),
    path("crew/rates/", steps.rates, name="rates"),
    path("crew/rates/use/", steps.use_rates, name="rates-use"),
    path("houses/<slug:slug>/tasks/", steps.house_work, name="house-work"),
]
