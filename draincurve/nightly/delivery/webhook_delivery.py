"""A POST of JSON to the shop's webhook: TLS verified, signed where a key is given, redirects not followed."""

from __future__ import annotations

import hashlib
import hmac
import json
import ssl
import urllib.request
from dataclasses import dataclass, field
from http.client import HTTPException, HTTPMessage
from importlib.metadata import version
from typing import IO
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit

from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.retrying import PermanentError, TransientError, tried
from draincurve.nightly.delivery.secrets import read_secret, without_secrets
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.nightly.delivery.webhook_payload import payload
from draincurve.schemas.delivery_settings import WebhookSettings, fault_of_url, is_this_machine

SIGNATURE = "X-Draincurve-Signature"
"""Header with "sha256=" and the HMAC-SHA256 of the body in hexadecimal, under the shop's key (RFC 2104)."""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """Does not follow redirects: a redirected POST may lose its body, or leave https."""

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> None:
        """No second request."""


@dataclass(frozen=True, slots=True)
class Posting:
    """One prepared request; `host` is the only part of the address that messages show."""

    request: urllib.request.Request = field(repr=False)
    opener: urllib.request.OpenerDirector
    host: str
    timeout_s: float
    secrets: tuple[str | None, ...] = field(repr=False)

    def once(self) -> str:
        """Post it; return what was done. Raises TransientError or PermanentError."""
        try:
            with self.opener.open(self.request, timeout=self.timeout_s) as answer:
                return f"posted to {self.host} ({answer.status})"
        except HTTPError as fault:
            code = fault.code
            fault.close()
            raise self._refusal(code) from None
        except URLError as fault:
            raise self._error_of(fault.reason) from None
        except (OSError, HTTPException) as fault:
            raise self._error_of(fault) from None

    def _refusal(self, code: int) -> TransientError | PermanentError:
        if code >= 500:
            return TransientError(f"webhook {self.host} answers {code}")
        if 300 <= code < 400:
            return PermanentError(f"webhook {self.host} answers {code}, elsewhere; name the final address")
        return PermanentError(f"webhook {self.host} answers {code} and refuses it")

    def _error_of(self, fault: object) -> TransientError | PermanentError:
        if isinstance(fault, ssl.SSLCertVerificationError):
            why = f"shows a certificate that is not trusted: {fault.verify_message}"
            return PermanentError(f"webhook {self.host} {why}")
        if isinstance(fault, TimeoutError):
            return TransientError(f"webhook {self.host} does not answer within {self.timeout_s:g} s")
        said = without_secrets(str(fault) or type(fault).__name__, self.secrets)[:200]
        return TransientError(f"webhook {self.host} cannot be reached ({said})")


def deliver_webhook(webhook: WebhookSettings, night: NightReport, *, context: DeliveryContext) -> DeliveryOutcome:
    """Post a night. A fault is returned as an outcome, never raised."""
    try:
        posting = _posting(webhook, night, context=context)
    except PermanentError as fault:
        return DeliveryOutcome("webhook", False, 0, str(fault))
    delivered, tries, said = tried(
        posting.once, webhook.tries, first_wait_s=webhook.first_wait_s, sleep=context.sleep
    )
    return DeliveryOutcome("webhook", delivered, tries, said)


def _posting(webhook: WebhookSettings, night: NightReport, *, context: DeliveryContext) -> Posting:
    """The request with its headers. The same night gives the same body, and so the same signature."""
    url = (
        webhook.url
        or read_secret("webhook's address", context, variable=webhook.url_env, file=webhook.url_file)
        or ""
    )
    fault = fault_of_url(url, webhook.plain_allowed)
    if fault:
        raise PermanentError(f"the webhook's address {fault}")
    token = read_secret("webhook's token", context, variable=webhook.token_env, file=webhook.token_file)
    key = read_secret(
        "webhook's signing key", context, variable=webhook.signing_key_env, file=webhook.signing_key_file
    )
    if token is not None and not token.isascii():
        raise PermanentError("the webhook's token holds letters that no header can carry")
    body = json.dumps(payload(night), ensure_ascii=True, allow_nan=False).encode("ascii")
    headers = {"Content-Type": "application/json", "User-Agent": f"draincurve/{version('draincurve')}"}
    if token is not None:
        headers["Authorization"] = f"Bearer {token}"
    if key is not None:
        headers[SIGNATURE] = f"sha256={hmac.new(key.encode(), body, hashlib.sha256).hexdigest()}"
    request = urllib.request.Request(url, data=body, headers=headers, method="POST")
    host = urlsplit(url).hostname or ""
    return Posting(request, _opener(webhook, context, host=host), host, webhook.timeout_s, (url, token, key))


def _opener(webhook: WebhookSettings, context: DeliveryContext, *, host: str) -> urllib.request.OpenerDirector:
    """TLS verified, no redirects, and no proxy for an address on this machine."""
    tls = verified_context(context, webhook.ca_file)
    handlers: list[urllib.request.BaseHandler] = [urllib.request.HTTPSHandler(context=tls), _NoRedirect()]
    if is_this_machine(host):
        handlers.append(urllib.request.ProxyHandler({}))
    return urllib.request.build_opener(*handlers)
