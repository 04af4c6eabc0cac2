"""What addresses are told, as OpenAPI 3.1 describes it under ``webhooks``."""

from __future__ import annotations

from typing import Any

from ninja import Schema

from farmbuild.api.webhooks import signing
from farmbuild.api.webhooks.messages import ChangeMessage, TrialMessage
from farmbuild.api.webhooks.posting import GONE, LONGEST
from farmbuild.api.webhooks.sending import MOST_TRIES

_HEADERS = {
    signing.ID: "The name of the message: the same however often it comes.",
    signing.TIMESTAMP: "When this try was made, in seconds since 1970.",
    signing.SIGNATURE: "One or more, spaces between: `v1,` and the base64 of HMAC-SHA256 over `id.timestamp.body`.",
}
_TOLD = (
    "At least once, and in the order of `mark`: nothing later comes before it is taken. It is taken by any answer of"
    f" 2xx within {LONGEST} seconds; nothing is followed. Else it comes again, {MOST_TRIES} times over about three"
    " days, and then the address is stopped until an owner starts it again."
)


def add_webhooks(schema: dict[str, Any]) -> None:
    """Into a description that has its components already."""
    schema["webhooks"] = {
        "change": _told(schema, ChangeMessage, "Something was changed", _TOLD),
        "trial": _told(schema, TrialMessage, "A trial that an owner sent", "Sent once, whatever is answered."),
    }


def _told(schema: dict[str, Any], message: type[Schema], summary: str, words: str) -> dict[str, Any]:
    body = message.model_json_schema(ref_template="#/components/schemas/{model}")
    parts = body.pop("$defs", {})
    schema["components"]["schemas"] |= parts | {message.__name__: body}
    return {
        "post": {
            "operationId": message.__name__,
            "summary": summary,
            "description": words,
            "parameters": [
                {"name": name, "in": "header", "required": True, "description": text, "schema": {"type": "string"}}
                for name, text in _HEADERS.items()
            ],
            "requestBody": {
                "required": True,
                "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{message.__name__}"}}},
            },
            "responses": {
                "2XX": {"description": "It was taken."},
                str(GONE): {"description": "Nothing more is wanted: the address is stopped."},
            },
        }
    }
