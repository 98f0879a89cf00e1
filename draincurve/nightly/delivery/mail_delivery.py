"""The mail of a night, sent by SMTP: TLS verified, each recipient at most once, retried only where that can help."""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email.message import EmailMessage
from typing import Final

from draincurve.nightly.delivery.delivery_record import DeliveryRecord, SendingState
from draincurve.nightly.delivery.mail_message import attached_files, night_message
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome
from draincurve.nightly.delivery.notification import Notification
from draincurve.nightly.delivery.retrying import PermanentError, TransientError, with_retries
from draincurve.nightly.delivery.secrets import read_secret, without_secrets
from draincurve.nightly.delivery.smtp_session import HandOver, TimedSmtp
from draincurve.nightly.delivery.timed_attempt import TimedAttempt
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.schemas.delivery_settings import MailSettings

PERMANENT = 500
"""Reply codes from here on are permanent failures (RFC 5321, section 4.2.1); lower ones are transient."""
WAY: Final = "mail"

_FAULTS = (OSError, smtplib.SMTPException, UnicodeError)


@dataclass(frozen=True, slots=True)
class Login:
    """User and password for the mail server; neither is ever printed."""

    user: str = field(repr=False)
    password: str = field(repr=False)


def deliver_mail(
    mail: MailSettings, notification: Notification, *, context: DeliveryContext, record: DeliveryRecord
) -> DeliveryOutcome | None:
    """Send a notification to the recipients who have not been sent it; None where there is none.

    A fault is returned as an outcome, never raised.
    """
    states = record.states(WAY)
    waiting = [address for address in dict.fromkeys(mail.recipients) if address not in states]
    unsure = [address for address in mail.recipients if states.get(address) is SendingState.HANDING_OVER]
    if not waiting:
        return DeliveryOutcome(WAY, False, 0, _unsure(unsure)) if unsure else None
    files = attached_files(notification, mail)
    try:
        tls = None if mail.security == "none" else verified_context(context, mail.ca_file)
        login = _login(mail, context)
    except PermanentError as fault:
        return DeliveryOutcome(WAY, False, 0, str(fault), files.left_out)
    sending = Sending(mail, night_message(notification, mail, files=files), tls, login, record, waiting, unsure)
    delivered, tries, message = with_retries(
        sending.once, mail.tries, timeout_s=mail.timeout_s, first_wait_s=mail.first_wait_s, context=context
    )
    return DeliveryOutcome(WAY, delivered, tries, message, files.left_out)


@dataclass(slots=True)
class Sending:
    """One message that is being sent, over as many attempts as it takes.

    tls : None for an unencrypted connection
    login : None for a server that needs none
    waiting : recipients that have not accepted the message yet
    unsure : recipients whom the message may or may not have reached
    refused : recipients that refused it permanently, with the server's reply
    """

    mail: MailSettings
    message: EmailMessage
    tls: ssl.SSLContext | None
    login: Login | None
    record: DeliveryRecord
    waiting: list[str]
    unsure: list[str]
    refused: dict[str, str] = field(default_factory=dict)
    sent: list[str] = field(default_factory=list)

    def once(self, seconds: float) -> str:
        """Send to everyone still waiting; return what was done. Raises TransientError or PermanentError."""
        attempt, handover = TimedAttempt(seconds), HandOver()
        try:
            replies = attempt.run(
                lambda attempt: self._session(attempt, handover),
                record=lambda: self.record.write(WAY, handover.recipients, state=SendingState.HANDING_OVER),
            )
        except smtplib.SMTPRecipientsRefused as fault:
            replies = fault.recipients
        except _FAULTS as fault:
            if attempt.handed_over and not handover.answered:
                # Nobody knows whether it was accepted. Sent again it might arrive twice.
                self._settle(handover.recipients, self.unsure)
                return self._result()
            self.record.withdraw(WAY, handover.recipients)
            raise self._error_of(fault, overdue=attempt.overdue, seconds=seconds) from fault
        else:
            self.record.write(WAY, handover.recipients, state=SendingState.SENT)
            self._settle(handover.recipients, self.sent)
        for address, (code, reply) in replies.items():
            if code >= PERMANENT:
                self.refused[address] = f"{code} {self._clean(reply)}"
        self.waiting = [address for address in self.waiting if address not in self.refused]
        return self._result()

    @property
    def server(self) -> str:
        """The server as messages name it."""
        return f"mail server {self.mail.host}:{self.mail.port}"

    def _settle(self, addresses: Iterable[str], settled: list[str]) -> None:
        """Move recipients from those who wait to another list."""
        settled.extend(addresses)
        self.waiting = [address for address in self.waiting if address not in settled]

    def _result(self) -> str:
        """What was done, if all recipients have it."""
        if self.waiting:
            raise TransientError(f"{self.server} does not take mail for {_joined(self.waiting)} for now")
        refused = "; ".join(f"{address}: {reply}" for address, reply in self.refused.items())
        faults = [f"{self.server} refuses {refused}"] if refused else []
        faults += [_unsure(self.unsure)] if self.unsure else []
        if faults:
            raise PermanentError("; ".join(faults))
        return f"sent to {_joined(self.sent)} by {self.mail.host}"

    def _session(self, attempt: TimedAttempt, handover: HandOver) -> dict[str, tuple[int, bytes]]:
        """Replies about recipients that were refused; runs in the thread of the attempt."""
        with self._connected(attempt, handover) as smtp:
            return smtp.send_message(self.message, self.mail.sender or "", self.waiting)

    @contextmanager
    def _connected(self, attempt: TimedAttempt, handover: HandOver) -> Iterator[smtplib.SMTP]:
        """A connection, encrypted and logged in as the settings say."""
        mail = self.mail
        tls = self.tls if mail.security == "tls" else None
        smtp = TimedSmtp(attempt, handover, host=mail.host or "", port=mail.port, tls=tls)
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

    def _error_of(self, fault: Exception, *, overdue: bool, seconds: float) -> TransientError | PermanentError:
        """The fault in one line, as a transient or a permanent error."""
        server = self.server
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
        if overdue or isinstance(fault, TimeoutError) or isinstance(fault.__context__, TimeoutError):
            return TransientError(f"{server} does not answer within {seconds:.3g} s")
        if isinstance(fault, smtplib.SMTPServerDisconnected):
            return TransientError(f"{server} broke off")
        return TransientError(f"{server} cannot be reached ({self._clean(str(fault) or type(fault).__name__)})")

    def _clean(self, reply: str | bytes) -> str:
        """A reply as text, without the login."""
        text = reply.decode("utf-8", "replace") if isinstance(reply, bytes) else reply
        return without_secrets(text, (self.login.user, self.login.password) if self.login else ())[:200]


def _unsure(addresses: Iterable[str]) -> str:
    """That a mail may or may not have arrived, and what to do."""
    who = _joined(tuple(addresses))
    return (
        f"it is not known whether the mail reached {who}, since its sending was cut off at the server's answer; "
        "it is not sent again, and nightly --force sends it anew"
    )


def _joined(addresses: tuple[str, ...] | list[str]) -> str:
    return ", ".join(addresses)


def _login(mail: MailSettings, context: DeliveryContext) -> Login | None:
    user = read_secret("user for the mail server", context, variable=mail.user_env, file=mail.user_file)
    password = read_secret(
        "password for the mail server", context, variable=mail.password_env, file=mail.password_file
    )
    return None if user is None or password is None else Login(user, password)
