"""Pages that are kept whole, for one reader, as long as no row changes."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest, HttpResponse

from farmbuild.common.context import whose_frame
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.answers.tokens import with_tokens, without_tokens

View = Callable[..., HttpResponse]


def kept_page(name: str) -> Callable[[View], View]:
    """Of a view that reads rows of its organisation alone, tells nothing by the minute and sets no header. It stands
    as long as the tables that its view was seen to read.

    A page above which a message stands is made anew, and so is what is no page: a form that was sent, an error.
    """

    def kept(view: View) -> View:
        @wraps(view)
        def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method != "GET" or len(get_messages(request)):
                return view(request, *args, **kwargs)
            made: list[HttpResponse] = []

            def work() -> str | None:
                made.append(view(request, *args, **kwargs))
                return without_tokens(made[0].content.decode()) if made[0].status_code == 200 else None

            user = request.user
            reader = (whose_frame(request), user.display_name, user.large_letters)
            with Answers(request, dear=True) as answers:
                found = answers.watched(name, work, request.get_full_path(), reader)
            return made[0] if made else HttpResponse(with_tokens(found, request))

        return wrapped

    return kept
