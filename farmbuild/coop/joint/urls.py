"""Addresses of joint orders: of the cooperative, and those that a member sees."""

from django.urls import path

from farmbuild.coop.joint.views import closing, handing, joints, needs, seen

_ONE = "joint-orders/<int:number>/"
_SEEN = "cooperatives/<slug:lender>/joint-orders/"

urlpatterns = [
    path("joint-orders/", joints.JointList.as_view(), name="joints"),
    path("joint-orders/new/", joints.new, name="joint-new"),
    path(_ONE, joints.show, name="joint"),
    path(f"{_ONE}edit/", joints.edit, name="joint-edit"),
    path(f"{_ONE}members/", joints.order_members, name="joint-members"),
    path(f"{_ONE}call-off/", joints.call_off, name="joint-call-off"),
    path(f"{_ONE}needs/", needs.put_in, name="joint-put-in"),
    path(f"{_ONE}needs/<int:pk>/", needs.change, name="joint-need"),
    path(f"{_ONE}needs/<int:pk>/remove/", needs.remove, name="joint-need-remove"),
    path(f"{_ONE}collect/", needs.collect, name="joint-collect"),
    path(f"{_ONE}prices/", closing.prices, name="joint-prices"),
    path(f"{_ONE}close/", closing.close, name="joint-close"),
    path(f"{_ONE}reopen/", closing.reopen, name="joint-reopen"),
    path(f"{_ONE}split/", handing.split, name="joint-split"),
    path(f"{_ONE}split.pdf", handing.split_as_pdf, name="joint-split-pdf"),
    path(f"{_ONE}split.xlsx", handing.split_as_workbook, name="joint-split-workbook"),
    path(f"{_ONE}list.pdf", handing.list_as_pdf, name="joint-list-pdf"),
    path(f"{_ONE}list.xlsx", handing.list_as_workbook, name="joint-list-workbook"),
    path(f"{_ONE}members/<slug:slug>/", handing.share, name="joint-share"),
    path(f"{_ONE}handouts/<int:pk>/back/", handing.take_back, name="joint-handout-back"),
    path(_SEEN, seen.joints, name="seen-joints"),
    path(f"{_SEEN}<int:number>/", seen.joint, name="seen-joint"),
    path(f"{_SEEN}<int:number>/needs/", seen.put_in, name="seen-joint-need"),
    path(f"{_SEEN}<int:number>/needs/<int:pk>/", seen.change, name="seen-joint-change"),
    path(f"{_SEEN}<int:number>/needs/<int:pk>/withdraw/", seen.withdraw, name="seen-joint-withdraw"),
    path(f"{_SEEN}<int:number>/plan/", seen.from_plan, name="seen-joint-plan"),
    path(f"{_SEEN}<int:number>/stock/", seen.take_over, name="seen-joint-stock"),
]
