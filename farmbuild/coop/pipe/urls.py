"""Addresses of pipe between members."""

from django.urls import path

from farmbuild.coop.pipe.views import lots, pipe, seen

_PIPE, _MEMBER = "cooperative/pipe", "cooperatives/<slug:lender>"
#: How a loan is settled, by the end of its address.
_HOW = {"new": "", "other": "other/", "money": "money/"}


def _how(name: str) -> dict[str, str]:
    return {"how": "same" if name == "new" else name}


urlpatterns = [
    path(f"{_PIPE}/", pipe.show_all, name="pipe-list"),
    path(f"{_PIPE}/new/", pipe.record, name="pipe-new"),
    path(f"{_PIPE}/<int:pk>/", pipe.show, name="pipe"),
    path(f"{_PIPE}/<int:pk>/agreed/", pipe.agree, name="pipe-agree"),
    path(f"{_PIPE}/<int:pk>/back/", pipe.take_back, name="pipe-back"),
    *(
        path(f"{_PIPE}/<int:pk>/return/{end}", pipe.settle, _how(name), name=f"pipe-return-{name}")
        for name, end in _HOW.items()
    ),
    path(f"{_PIPE}/returns/<int:pk>/", pipe.show_return, name="pipe-return"),
    path(f"{_PIPE}/returns/<int:pk>/agreed/", pipe.agree_to_return, name="pipe-return-agree"),
    path(f"{_PIPE}/returns/<int:pk>/back/", pipe.take_return_back, name="pipe-return-back"),
    path(f"{_MEMBER}/pipe/", seen.show_all, name="seen-pipe-list"),
    path(f"{_MEMBER}/pipe/new/", seen.tell, name="seen-pipe-new"),
    path(f"{_MEMBER}/pipe/<int:pk>/", seen.show, name="seen-pipe"),
    path(f"{_MEMBER}/pipe/<int:pk>/agree/", seen.agree, name="seen-pipe-agree"),
    path(f"{_MEMBER}/pipe/<int:pk>/refuse/", seen.refuse, name="seen-pipe-refuse"),
    *(
        path(f"{_MEMBER}/pipe/<int:pk>/return/{end}", seen.settle, _how(name), name=f"seen-pipe-return-{name}")
        for name, end in _HOW.items()
    ),
    path(f"{_MEMBER}/pipe/returns/<int:pk>/", seen.show_return, name="seen-pipe-return"),
    path(f"{_MEMBER}/pipe/returns/<int:pk>/agree/", seen.agree_to_return, name="seen-pipe-return-agree"),
    path(f"{_MEMBER}/pipe/returns/<int:pk>/refuse/", seen.refuse_return, name="seen-pipe-return-refuse"),
    path(f"{_MEMBER}/lots/", lots.show_all, name="seen-lots"),
    path(f"{_MEMBER}/lots/<int:pk>/", lots.show, name="seen-lot"),
    path(f"{_MEMBER}/lots/<int:pk>/leave/", lots.give, name="seen-lot-leave"),
    path(f"{_MEMBER}/lots/leave/<int:pk>/end/", lots.end, name="seen-lot-leave-end"),
]
