"""Addresses of common stock: of the cooperative, and those that a member sees."""

from django.urls import path

from farmbuild.coop.common.views import offers, seen, wishes

_ROOM = "cooperative/common-stock/"
_SEEN = "cooperatives/<slug:lender>/common-stock/"

urlpatterns = [
    path(_ROOM, offers.CommonList.as_view(), name="common"),
    path(f"{_ROOM}open/", offers.open_by_item, name="common-open"),
    path(f"{_ROOM}open/<int:pk>/", offers.open_one, name="common-open-lot"),
    path(f"{_ROOM}wishes/", wishes.WishList.as_view(), name="common-wishes"),
    path(f"{_ROOM}wishes/<int:pk>/", wishes.wish, name="common-wish"),
    path(f"{_ROOM}wishes/<int:pk>/give/", wishes.give, name="common-wish-give"),
    path(f"{_ROOM}<int:pk>/", offers.show, name="common-offer"),
    path(f"{_ROOM}<int:pk>/end/", offers.end, name="common-end"),
    path(_SEEN, seen.common, name="seen-common"),
    path(f"{_SEEN}<int:pk>/", seen.offer, name="seen-common-offer"),
    path(f"{_SEEN}wishes/<int:pk>/", seen.wish, name="seen-common-wish"),
]
