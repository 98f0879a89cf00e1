"""A message to a mail server: TLS verified, each recipient once at most, passing faults told from lasting ones."""

from __future__ import annotations

import smtplib
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email.message import EmailMessage

from draincurve.nightly.delivery.retrying import LastingError, PassingError
from draincurve.nightly.delivery.secrets import without_secrets
from draincurve.schemas.delivery_settings import MailSettings

LASTING = 500
"""Replies from here on are refusals for good (RFC 5321, section 4.2.1); those below may pass."""


@dataclass(frozen=True, slots=True)
class Login:
    """Who logs in; neither field is ever printed."""

    user: str = field(repr=False)
    password: str = field(repr=False)


@dataclass(slots=True)
class Sending:
    """One message on its way; what each recipient's server said is remembered from try to try.

    context : None for a connection in the clear. login : None for a server that asks for none
    """

    mail: MailSettings
    message: EmailMessage
    context: ssl.SSLContext | None
    login: Login | None
    waiting: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)

    def once(self) -> str:
        """Send to everyone who has not got it yet; returns what was done. Raises PassingError or LastingError."""
        server = f"mail server {self.mail.host}:{self.mail.port}"
        try:
            with self._connected() as smtp:
                replies = smtp.send_message(self.message, self.mail.sender or "", self.waiting)
        except smtplib.SMTPRecipientsRefused as fault:
            replies = fault.recipients
        except _FAULTS as fault:
            raise self._told(server, fault) from fault
        self._sort_out(replies)
        if self.waiting:
            raise PassingError(f"{server} does not take mail for {_listed(self.waiting)} for now")
        if self.refused:
            reasons = "; ".join(f"{address}: {said}" for address, said in self.refused.items())
            raise LastingError(f"{server} refuses {reasons}")
        return f"sent to {_listed(self.mail.recipients)} by {self.mail.host}"

    def _sort_out(self, replies: dict[str, tuple[int, bytes]]) -> None:
        """Who is refused for good, and who has to wait for the next try; everyone else has got it."""
        for address, (code, said) in replies.items():
            if code >= LASTING:
                self.refused[address] = f"{code} {self._clean(said)}"
        self.waiting = [address for address in self.waiting if address in replies and address not in self.refused]

    @contextmanager
    def _connected(self) -> Iterator[smtplib.SMTP]:
        """A connection that is encrypted and logged in as the settings ask."""
        mail, name = self.mail, socket.gethostname() or "localhost"
        host, port = mail.host or "", mail.port
        smtp: smtplib.SMTP
        if mail.security == "tls":
            smtp = smtplib.SMTP_SSL(host, port, name, timeout=mail.timeout_s, context=self.context)
        else:
            smtp = smtplib.SMTP(host, port, name, timeout=mail.timeout_s)
        try:
            if mail.security == "starttls":
                smtp.starttls(context=self.context)
            if self.login is not None:
                smtp.login(self.login.user, self.login.password)
            yield smtp
        finally:
            # what was taken is taken: a server that is rude in parting must not make it count as failed
            with suppress(OSError, smtplib.SMTPException):
                smtp.quit()
            smtp.close()

    def _told(self, server: str, fault: Exception) -> PassingError | LastingError:
        """The fault in one line, as one that passes or one that lasts."""
        if isinstance(fault, smtplib.SMTPAuthenticationError):
            # the server's words are left out: they may repeat what was sent to it
            why = f"{server} does not accept user and password ({fault.smtp_code})"
            return LastingError(why) if fault.smtp_code >= LASTING else PassingError(why)
        if isinstance(fault, smtplib.SMTPResponseException):
            why = f"{server} says {fault.smtp_code} {self._clean(fault.smtp_error)}"
            return LastingError(why) if fault.smtp_code >= LASTING else PassingError(why)
        if isinstance(fault, smtplib.SMTPNotSupportedError):
            return LastingError(f"{server} does not offer what the settings ask for ({self._clean(str(fault))})")
        if isinstance(fault, ssl.SSLCertVerificationError):
            return LastingError(f"{server} shows a certificate that is not trusted: {fault.verify_message}")
        if isinstance(fault, UnicodeError):
            return LastingError(f"{server}: user, password or an address holds letters that this server cannot take")
        if isinstance(fault, TimeoutError) or isinstance(fault.__context__, TimeoutError):
            return PassingError(f"{server} does not answer within {self.mail.timeout_s:g} s")
        if isinstance(fault, smtplib.SMTPServerDisconnected):
            return PassingError(f"{server} broke off")
        return PassingError(f"{server} cannot be reached ({self._clean(str(fault) or type(fault).__name__)})")

    def _clean(self, said: str | bytes) -> str:
        text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
        return without_secrets(text, (self.login.user, self.login.password) if self.login else ())[:200]


_FAULTS = (OSError, smtplib.SMTPException, UnicodeError)


def _listed(addresses: tuple[str, ...] | list[str]) -> str:
    return ", ".join(addresses)
