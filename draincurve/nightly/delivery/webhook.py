"""A POST of JSON to an address of the shop's: verified, signed where a key is given, never sent on elsewhere."""

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

from draincurve.nightly.delivery.night_report import DeliveryOutcome, NightReport, Surroundings
from draincurve.nightly.delivery.payload import payload
from draincurve.nightly.delivery.retrying import LastingError, PassingError, tried
from draincurve.nightly.delivery.secrets import read_secret, without_secrets
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.schemas.delivery_settings import WebhookSettings, fault_of_url, is_this_machine

SIGNATURE = "X-Draincurve-Signature"
"""Header with "sha256=" and the HMAC-SHA256 of the body in hexadecimal, under the shop's key (RFC 2104)."""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A redirect is an answer like any other: a POST that is sent on may lose its body, or leave https."""

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> None:
        """No second request."""


@dataclass(frozen=True, slots=True)
class Posting:
    """One request that is ready to go; `host` is all of the address that is ever said."""

    request: urllib.request.Request = field(repr=False)
    opener: urllib.request.OpenerDirector
    host: str
    timeout_s: float
    secrets: tuple[str | None, ...] = field(repr=False)

    def once(self) -> str:
        """Post it; returns what was done. Raises PassingError or LastingError."""
        try:
            with self.opener.open(self.request, timeout=self.timeout_s) as answer:
                return f"posted to {self.host} ({answer.status})"
        except HTTPError as fault:
            code = fault.code
            fault.close()
            raise self._refusal(code) from None
        except URLError as fault:
            raise self._told(fault.reason) from None
        except (OSError, HTTPException) as fault:
            raise self._told(fault) from None

    def _refusal(self, code: int) -> PassingError | LastingError:
        if code >= 500:
            return PassingError(f"webhook {self.host} answers {code}")
        if 300 <= code < 400:
            return LastingError(f"webhook {self.host} answers {code}, elsewhere; name the final address")
        return LastingError(f"webhook {self.host} answers {code} and refuses it")

    def _told(self, fault: object) -> PassingError | LastingError:
        if isinstance(fault, ssl.SSLCertVerificationError):
            why = f"shows a certificate that is not trusted: {fault.verify_message}"
            return LastingError(f"webhook {self.host} {why}")
        if isinstance(fault, TimeoutError):
            return PassingError(f"webhook {self.host} does not answer within {self.timeout_s:g} s")
        said = without_secrets(str(fault) or type(fault).__name__, self.secrets)[:200]
        return PassingError(f"webhook {self.host} cannot be reached ({said})")


def deliver_webhook(webhook: WebhookSettings, night: NightReport, surroundings: Surroundings) -> DeliveryOutcome:
    """Post a night; a fault is an outcome, never an exception."""
    try:
        posting = _posting(webhook, night, surroundings)
    except LastingError as fault:
        return DeliveryOutcome("webhook", False, 0, str(fault))
    delivered, tries, said = tried(posting.once, webhook.tries, webhook.first_wait_s, surroundings.sleep)
    return DeliveryOutcome("webhook", delivered, tries, said)


def _posting(webhook: WebhookSettings, night: NightReport, surroundings: Surroundings) -> Posting:
    """The request with its headers; the same night gives the same body, and so the same signature."""
    url = webhook.url or read_secret(surroundings, webhook.url_env, webhook.url_file, "webhook's address") or ""
    fault = fault_of_url(url, webhook.plain_allowed)
    if fault:
        raise LastingError(f"the webhook's address {fault}")
    token = read_secret(surroundings, webhook.token_env, webhook.token_file, "webhook's token")
    key = read_secret(surroundings, webhook.signing_key_env, webhook.signing_key_file, "webhook's signing key")
    if token is not None and not token.isascii():
        raise LastingError("the webhook's token holds letters that no header can carry")
    body = json.dumps(payload(night), ensure_ascii=True, allow_nan=False).encode("ascii")
    headers = {"Content-Type": "application/json", "User-Agent": f"draincurve/{version('draincurve')}"}
    if token is not None:
        headers["Authorization"] = f"Bearer {token}"
    if key is not None:
        headers[SIGNATURE] = f"sha256={hmac.new(key.encode(), body, hashlib.sha256).hexdigest()}"
    request = urllib.request.Request(url, data=body, headers=headers, method="POST")
    host = urlsplit(url).hostname or ""
    return Posting(request, _opener(webhook, surroundings, host), host, webhook.timeout_s, (url, token, key))


def _opener(webhook: WebhookSettings, surroundings: Surroundings, host: str) -> urllib.request.OpenerDirector:
    """Verified, without redirects; a proxy of the environment is not asked for this machine itself."""
    context = verified_context(surroundings, webhook.ca_file)
    handlers: list[urllib.request.BaseHandler] = [urllib.request.HTTPSHandler(context=context), _NoRedirect()]
    if is_this_machine(host):
        handlers.append(urllib.request.ProxyHandler({}))
    return urllib.request.build_opener(*handlers)
