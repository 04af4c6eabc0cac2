"""Messages are signed as Standard Webhooks (version 1, from memory) has it, so that its open libraries read them.

What is signed is ``id.timestamp.body``, by HMAC-SHA256. The secret is worked out of a number in the database and the
secret of the site, so that neither a copy of the database nor an export signs anything. Another FARMBUILD_SECRET_KEY
therefore changes all of them.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from datetime import datetime

from django.utils.crypto import salted_hmac

from farmbuild.api.models import Webhook

PREFIX = "whsec_"
ID, TIMESTAMP, SIGNATURE = "webhook-id", "webhook-timestamp", "webhook-signature"


def draw() -> str:
    """A number from which a secret is worked out."""
    return secrets.token_hex(24)


def _key(ref: str, nonce: str) -> bytes:
    return salted_hmac("farmbuild.api.webhooks", f"{ref}:{nonce}", algorithm="sha256").digest()


def secret_of(webhook: Webhook) -> str:
    """As the other program takes it."""
    return PREFIX + base64.b64encode(_key(webhook.ref, webhook.nonce)).decode()


def headers_of(webhook: Webhook, *, message: str, body: bytes, now: datetime) -> dict[str, str]:
    """While the secret before counts still, there are two signatures, the newer one in front."""
    at = int(now.timestamp())
    nonces = [webhook.nonce]
    if webhook.nonce_before and webhook.before_until and webhook.before_until > now:
        nonces.append(webhook.nonce_before)
    signatures = [signature(_key(webhook.ref, nonce), message=message, at=at, body=body) for nonce in nonces]
    return {ID: message, TIMESTAMP: str(at), SIGNATURE: " ".join(signatures)}


def signature(key: bytes, *, message: str, at: int, body: bytes) -> str:
    """``at``: seconds since 1970."""
    signed = f"{message}.{at}.".encode() + body
    return f"v1,{base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()}"
