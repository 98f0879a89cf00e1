"""A POST of JSON to the shop's webhook: TLS verified, signed where a key is given, redirects not followed."""

from __future__ import annotations

import hashlib
import hmac
import ssl
import urllib.request
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPMessage, HTTPResponse, HTTPSConnection
from importlib.metadata import version
from typing import IO, Any, Final
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit

from draincurve.nightly.delivery.delivery_record import DeliveryRecord, SendingState
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome
from draincurve.nightly.delivery.notification import Notification
from draincurve.nightly.delivery.retrying import PermanentError, TransientError, with_retries
from draincurve.nightly.delivery.secrets import read_secret, without_secrets
from draincurve.nightly.delivery.timed_attempt import TimedAttempt
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.schemas.delivery_settings import WebhookSettings, fault_of_url, is_this_machine

WAY: Final = "webhook"
SIGNATURE = "X-Draincurve-Signature"
"""Header with "sha256=" and the HMAC-SHA256 of the body in hexadecimal, under the shop's key (RFC 2104)."""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """Does not follow redirects: a redirected POST may lose its body, or leave https."""

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> None:
        """No second request."""


class _TimedConnection(HTTPConnection):
    """A connection held by the attempt that made its request."""

    attempt: TimedAttempt

    def connect(self) -> None:
        """Connect, and have the connection shut when the attempt's time is over. Raises OSError."""
        super().connect()
        self.attempt.hold(self.sock)


class _TimedTlsConnection(HTTPSConnection, _TimedConnection):
    """The same with TLS, held from before the handshake, since this class connects by the other one."""


class _TimedHandler(urllib.request.HTTPHandler, urllib.request.HTTPSHandler):
    """Opens connections, with TLS and without, that an attempt holds."""

    def __init__(self, attempt: TimedAttempt, tls: ssl.SSLContext) -> None:
        super().__init__()
        self._attempt, self._tls = attempt, tls

    def https_open(self, req: urllib.request.Request) -> HTTPResponse:
        """An answer over TLS."""
        return self.do_open(self._encrypted, req)

    def http_open(self, req: urllib.request.Request) -> HTTPResponse:
        """An answer over a plain connection."""
        return self.do_open(self._unencrypted, req)

    def _encrypted(self, host: str, **options: Any) -> HTTPSConnection:
        connection = _TimedTlsConnection(host, context=self._tls, **options)
        connection.attempt = self._attempt
        return connection

    def _unencrypted(self, host: str, **options: Any) -> HTTPConnection:
        connection = _TimedConnection(host, **options)
        connection.attempt = self._attempt
        return connection


@dataclass(frozen=True, slots=True)
class Posting:
    """One prepared request; `host` is the only part of the address that messages show."""

    request: urllib.request.Request = field(repr=False)
    tls: ssl.SSLContext
    host: str
    secrets: tuple[str | None, ...] = field(repr=False)

    def once(self, seconds: float) -> str:
        """Post it; return what was done. Raises TransientError or PermanentError."""
        attempt = TimedAttempt(seconds)
        try:
            return f"posted to {self.host} ({attempt.run(self._status)})"
        except HTTPError as fault:
            code = fault.code
            fault.close()
            raise self._refusal(code) from None
        except URLError as fault:
            raise self._error_of(fault.reason, overdue=attempt.overdue, seconds=seconds) from None
        except (OSError, HTTPException) as fault:
            raise self._error_of(fault, overdue=attempt.overdue, seconds=seconds) from None

    def _status(self, attempt: TimedAttempt) -> int:
        """The status of the answer, without redirects, and without a proxy for an address on this machine."""
        handlers: list[urllib.request.BaseHandler] = [_TimedHandler(attempt, self.tls), _NoRedirect()]
        if is_this_machine(self.host):
            handlers.append(urllib.request.ProxyHandler({}))
        with urllib.request.build_opener(*handlers).open(self.request, timeout=attempt.left_s) as answer:
            return int(answer.status)

    def _refusal(self, code: int) -> TransientError | PermanentError:
        if code >= 500:
            return TransientError(f"webhook {self.host} answers {code}")
        if 300 <= code < 400:
            return PermanentError(f"webhook {self.host} answers {code}, elsewhere; name the final address")
        return PermanentError(f"webhook {self.host} answers {code} and refuses it")

    def _error_of(self, fault: object, *, overdue: bool, seconds: float) -> TransientError | PermanentError:
        if isinstance(fault, ssl.SSLCertVerificationError):
            why = f"shows a certificate that is not trusted: {fault.verify_message}"
            return PermanentError(f"webhook {self.host} {why}")
        if overdue or isinstance(fault, TimeoutError):
            return TransientError(f"webhook {self.host} does not answer within {seconds:.3g} s")
        reason = without_secrets(str(fault) or type(fault).__name__, self.secrets)[:200]
        return TransientError(f"webhook {self.host} cannot be reached ({reason})")


def deliver_webhook(
    webhook: WebhookSettings, notification: Notification, *, context: DeliveryContext, record: DeliveryRecord
) -> DeliveryOutcome | None:
    """Post a notification; None where it has been posted to this address. Faults are outcomes, never raised.

    A post whose answer got lost is posted again: its receiver knows it by the field `delivery`.
    """
    try:
        posting, receiver = _posting(webhook, notification, context=context)
        if receiver in record.states(WAY):
            return None
    except PermanentError as fault:
        return DeliveryOutcome(WAY, False, 0, str(fault))
    delivered, tries, message = with_retries(
        posting.once, webhook.tries, timeout_s=webhook.timeout_s, first_wait_s=webhook.first_wait_s, context=context
    )
    if delivered:
        record.write(WAY, [receiver], state=SendingState.SENT)
    return DeliveryOutcome(WAY, delivered, tries, message)


def _posting(
    webhook: WebhookSettings, notification: Notification, *, context: DeliveryContext
) -> tuple[Posting, str]:
    """The request with its headers, and a name for its address that does not give the address away."""
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
    body = notification.body.encode("ascii")
    headers = {"Content-Type": "application/json", "User-Agent": f"draincurve/{version('draincurve')}"}
    if token is not None:
        headers["Authorization"] = f"Bearer {token}"
    if key is not None:
        headers[SIGNATURE] = f"sha256={hmac.new(key.encode(), body, hashlib.sha256).hexdigest()}"
    request = urllib.request.Request(url, data=body, headers=headers, method="POST")
    tls = verified_context(context, webhook.ca_file)
    posting = Posting(request, tls, urlsplit(url).hostname or "", (url, token, key))
    return posting, hashlib.sha256(url.encode()).hexdigest()[:16]
