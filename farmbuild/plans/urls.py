"""Addresses of plans."""

from django.urls import path

from farmbuild.plans.changing import views as changing
from farmbuild.plans.views import accepting, buying_reasons, files, from_yard, parts, plans, savings

app_name = "plans"
urlpatterns = [
    path("plans/", plans.plan_list, name="plans"),
    path("plans/new/", plans.create, name="new"),
    path("plans/<int:number>/", plans.show, name="plan"),
    path("plans/<int:number>/progress/", plans.progress, name="progress"),
    path("plans/<int:number>/run/", plans.run, name="run"),
    path("plans/<int:number>/end/", plans.end, name="end"),
    path("plans/<int:number>/retry/", plans.retry, name="retry"),
    path("plans/<int:number>/again/", plans.again, name="again"),
    path("plans/<int:number>/accept/", accepting.accept, name="accept"),
    path("plans/<int:number>/release/", accepting.release, name="release"),
    path("houses/<slug:slug>/held/", accepting.house_held, name="house-held"),
    path("houses/<slug:slug>/held/release/", accepting.house_release, name="house-release"),
    path("houses/<slug:slug>/held/return/", accepting.house_put_back, name="house-put-back"),
    path("plans/<int:number>/change/", changing.show, name="change"),
    path("plans/<int:number>/change.xlsx", changing.workbook, name="change-file"),
    path("houses/<slug:slug>/change/", changing.start, name="house-change"),
    path("plans/<int:number>/savings/", savings.show, name="savings"),
    path("plans/<int:number>/savings/progress/", savings.progress, name="savings-progress"),
    path("plans/<int:number>/savings/run/", savings.run, name="savings-run"),
    path("plans/<int:number>/savings/end/", savings.end, name="savings-end"),
    path("plans/<int:number>/savings/<int:row>/try/", savings.try_one, name="savings-try"),
    path("plans/<int:number>/houses/", savings.houses_as_tried, name="houses-as-tried"),
    path("plans/<int:number>/yard/", from_yard.show, name="from-yard"),
    path("plans/<int:number>/yard/<slug:by>/progress/", from_yard.progress, name="from-yard-progress"),
    path("plans/<int:number>/yard/<slug:by>/run/", from_yard.run, name="from-yard-run"),
    path("plans/<int:number>/yard/<slug:by>/end/", from_yard.end, name="from-yard-end"),
    path("plans/<int:number>/yard/<slug:by>/try/", from_yard.try_them, name="from-yard-try"),
    path("plans/<int:number>/in-time/", parts.in_time, name="in-time"),
    path("plans/<int:number>/needs/", parts.needs, name="needs"),
    path("plans/<int:number>/needs/<slug:ref>/", parts.house_needs, name="house-needs"),
    path("plans/<int:number>/cutting/", parts.cutting, name="cutting"),
    path("plans/<int:number>/shortfall/", parts.shortfall, name="shortfall"),
    path("plans/<int:number>/leftovers/", parts.leftovers, name="leftovers"),
    path("plans/<int:number>/orders/", parts.orders, name="orders"),
    path("plans/<int:number>/orders/why/", buying_reasons.why, name="why-offers"),
    path("plans/<int:number>/orders.zip", files.orders, name="orders-zip"),
    path("plans/<int:number>/trial/<slug:order>.xlsx", files.trial, name="trial-order"),
    path("plans/<int:number>/cut-list.xlsx", files.cut_list, name="cut-list"),
    path("plans/<int:number>/take-off.xlsx", files.takeoff, name="take-off"),
    path("plans/<int:number>/leftovers.xlsx", files.leftovers, name="leftovers-file"),
]
