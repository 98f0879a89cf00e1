"""A session with a mail server that is shut at a deadline and tells its caller before the message is handed over.

The server may accept a message from the moment it has the line with a single period, and the client cannot know
before the reply arrives. Source: RFC 5321, section 4.1.1.4, and RFC 1047, which is on the duplicates that come of it.
"""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from draincurve.nightly.delivery.timed_attempt import TimedAttempt

_RECIPIENT_ACCEPTED = (250, 251)
_REPLIES = range(200, 600)
_LAST_LINE = b".\r\n"


@dataclass(slots=True)
class HandOver:
    """How far a message came: recipients that the server accepted, and whether it answered the last line."""

    recipients: list[str] = field(default_factory=list)
    answered: bool = False


class TimedSmtp(smtplib.SMTP):
    """SMTP whose connections an attempt with a deadline holds. tls : for a connection encrypted from its start."""

    def __init__(
        self, attempt: TimedAttempt, handover: HandOver, *, host: str, port: int, tls: ssl.SSLContext | None
    ) -> None:
        self._attempt, self._handover, self._tls, self._server = attempt, handover, tls, host
        super().__init__(host, port, socket.gethostname() or "localhost", timeout=attempt.left_s)

    def connect(self, host: str = "localhost", port: int = 0, source_address: Any = None) -> tuple[int, bytes]:  # noqa: ARG002
        """The server's greeting. Raises OSError."""
        self.sock = self._attempt.connect(host, port)
        if self._tls is not None:
            self.sock = self._tls.wrap_socket(self.sock, server_hostname=self._server)
        self.file = None
        return self.getreply()

    def rcpt(self, recip: str, options: Sequence[str] = ()) -> tuple[int, bytes]:
        """The server's reply to one recipient."""
        code, reply = super().rcpt(recip, options)
        if code in _RECIPIENT_ACCEPTED:
            self._handover.recipients.append(recip)
        return code, reply

    def data(self, msg: object) -> tuple[int, bytes]:
        """The server's reply to the message. Its last line goes out only when that was recorded."""
        assert isinstance(msg, bytes)
        code, reply = self.docmd("data")
        if code != 354:
            raise smtplib.SMTPDataError(code, reply)
        stuffed = re.sub(rb"(?m)^\.", b"..", msg)
        self.send(stuffed if stuffed.endswith(b"\r\n") else stuffed + b"\r\n")
        self._attempt.hand_over()
        self.send(_LAST_LINE)
        code, reply = self.getreply()
        self._handover.answered = code in _REPLIES  # anything else is a reply that was cut off
        return code, reply
