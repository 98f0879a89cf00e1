"""The mail of a night, sent by SMTP: TLS verified, each recipient at most once, retried only where that can help."""

from __future__ import annotations

import smtplib
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email.message import EmailMessage

from draincurve.nightly.delivery.mail_message import attached_files, night_message
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.retrying import PermanentError, TransientError, tried
from draincurve.nightly.delivery.secrets import read_secret, without_secrets
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.schemas.delivery_settings import MailSettings

PERMANENT = 500
"""Reply codes from here on are permanent failures (RFC 5321, section 4.2.1); lower ones are transient."""

_FAULTS = (OSError, smtplib.SMTPException, UnicodeError)


@dataclass(frozen=True, slots=True)
class Login:
    """User and password for the mail server; neither is ever printed."""

    user: str = field(repr=False)
    password: str = field(repr=False)


def deliver_mail(mail: MailSettings, night: NightReport, *, context: DeliveryContext) -> DeliveryOutcome:
    """Send the mail of a night. A fault is returned as an outcome, never raised."""
    files = attached_files(night, mail)
    try:
        tls = None if mail.security == "none" else verified_context(context, mail.ca_file)
        login = _login(mail, context)
    except PermanentError as fault:
        return DeliveryOutcome("mail", False, 0, str(fault), files.left_out)
    sending = Sending(mail, night_message(night, mail, files=files), tls, login, waiting=list(mail.recipients))
    delivered, tries, said = tried(sending.once, mail.tries, first_wait_s=mail.first_wait_s, sleep=context.sleep)
    return DeliveryOutcome("mail", delivered, tries, said, files.left_out)


@dataclass(slots=True)
class Sending:
    """One message that is being sent, over as many tries as it takes.

    tls : None for an unencrypted connection
    login : None for a server that needs none
    waiting : recipients that have not accepted the message yet
    refused : recipients that refused it permanently, with the server's reply
    """

    mail: MailSettings
    message: EmailMessage
    tls: ssl.SSLContext | None
    login: Login | None
    waiting: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)

    def once(self) -> str:
        """Send to everyone still waiting; return what was done. Raises TransientError or PermanentError."""
        server = f"mail server {self.mail.host}:{self.mail.port}"
        try:
            with self._connected() as smtp:
                replies = smtp.send_message(self.message, self.mail.sender or "", self.waiting)
        except smtplib.SMTPRecipientsRefused as fault:
            replies = fault.recipients
        except _FAULTS as fault:
            raise self._error_of(server, fault) from fault
        self._update(replies)
        if self.waiting:
            raise TransientError(f"{server} does not take mail for {_listed(self.waiting)} for now")
        if self.refused:
            reasons = "; ".join(f"{address}: {said}" for address, said in self.refused.items())
            raise PermanentError(f"{server} refuses {reasons}")
        return f"sent to {_listed(self.mail.recipients)} by {self.mail.host}"

    def _update(self, replies: dict[str, tuple[int, bytes]]) -> None:
        """Update who is refused and who is waiting; everyone without a reply has accepted the message."""
        for address, (code, said) in replies.items():
            if code >= PERMANENT:
                self.refused[address] = f"{code} {self._clean(said)}"
        self.waiting = [address for address in self.waiting if address in replies and address not in self.refused]

    @contextmanager
    def _connected(self) -> Iterator[smtplib.SMTP]:
        """A connection, encrypted and logged in as the settings say."""
        mail, name = self.mail, socket.gethostname() or "localhost"
        host, port = mail.host or "", mail.port
        smtp: smtplib.SMTP
        if mail.security == "tls":
            smtp = smtplib.SMTP_SSL(host, port, name, timeout=mail.timeout_s, context=self.tls)
        else:
            smtp = smtplib.SMTP(host, port, name, timeout=mail.timeout_s)
        try:
            if mail.security == "starttls":
                smtp.starttls(context=self.tls)
            if self.login is not None:
                smtp.login(self.login.user, self.login.password)
            yield smtp
        finally:
            # The message was accepted by now, so a fault at the end of the session does not matter.
            with suppress(OSError, smtplib.SMTPException):
                smtp.quit()
            smtp.close()

    def _error_of(self, server: str, fault: Exception) -> TransientError | PermanentError:
        """The fault in one line, as a transient or a permanent error."""
        if isinstance(fault, smtplib.SMTPAuthenticationError):
            # The server's reply is left out: it may repeat the password.
            why = f"{server} does not accept user and password ({fault.smtp_code})"
            return PermanentError(why) if fault.smtp_code >= PERMANENT else TransientError(why)
        if isinstance(fault, smtplib.SMTPResponseException):
            why = f"{server} says {fault.smtp_code} {self._clean(fault.smtp_error)}"
            return PermanentError(why) if fault.smtp_code >= PERMANENT else TransientError(why)
        if isinstance(fault, smtplib.SMTPNotSupportedError):
            return PermanentError(f"{server} does not offer what the settings ask for ({self._clean(str(fault))})")
        if isinstance(fault, ssl.SSLCertVerificationError):
            return PermanentError(f"{server} shows a certificate that is not trusted: {fault.verify_message}")
        if isinstance(fault, UnicodeError):
            return PermanentError(
                f"{server}: user, password or an address holds letters that this server cannot take"
            )
        if isinstance(fault, TimeoutError) or isinstance(fault.__context__, TimeoutError):
            return TransientError(f"{server} does not answer within {self.mail.timeout_s:g} s")
        if isinstance(fault, smtplib.SMTPServerDisconnected):
            return TransientError(f"{server} broke off")
        return TransientError(f"{server} cannot be reached ({self._clean(str(fault) or type(fault).__name__)})")

    def _clean(self, said: str | bytes) -> str:
        text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
        return without_secrets(text, (self.login.user, self.login.password) if self.login else ())[:200]


def _listed(addresses: tuple[str, ...] | list[str]) -> str:
    return ", ".join(addresses)


def _login(mail: MailSettings, context: DeliveryContext) -> Login | None:
    user = read_secret("user for the mail server", context, variable=mail.user_env, file=mail.user_file)
    password = read_secret(
        "password for the mail server", context, variable=mail.password_env, file=mail.password_file
    )
    return None if user is None or password is None else Login(user, password)
