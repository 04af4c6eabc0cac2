"""Addresses of work templates, rates, and the work of a house."""

from django.urls import path

from farmbuild.crew.steps.views import steps

urlpatterns = [
    path("crew/steps/", steps.TemplateList.as_view(), name="templates"),
    path("crew/steps/new/", steps.new_template, name="template-new"),
    path("crew/steps/<slug:slug>/", steps.template, name="template"),
    path("crew/steps/<slug:slug>/edit/", steps.edit_template, name="template-edit"),
    path("crew/steps/<slug:slug>/remove/", steps.remove_template, name="template-remove"),
    path("crew/steps-standard/", steps.add_standard, name="template-standard"),
    path("crew/rates/", steps.rates, name="rates"),
    path("crew/rates/use/", steps.use_rates, name="rates-use"),
    path("houses/<slug:slug>/tasks/", steps.house_work, name="house-work"),
]
