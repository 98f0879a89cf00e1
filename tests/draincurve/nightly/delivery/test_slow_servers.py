"""Servers that drip: whatever they send and however slowly, a try ends in its time, and the night in its own."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from aiosmtpd.controller import Controller

from draincurve.nightly.delivery.delivery_record import InMemoryRecord, SendingState
from draincurve.nightly.delivery.mail_delivery import deliver_mail
from draincurve.nightly.delivery.night_report import DeliveryContext
from draincurve.nightly.delivery.notification import notification_of
from draincurve.nightly.delivery.webhook_delivery import deliver_webhook
from draincurve.schemas.delivery_settings import MailSettings, WebhookSettings

TIME_S = 0.8
LONGEST_S = TIME_S + 1.2
"""A try's time, and what a busy machine may add."""

MAIL = MailSettings(
    host="127.0.0.1",
    security="none",
    sender="bench@workshop.example",
    recipients=("a@team.example",),
    tries=1,
    timeout_s=TIME_S,
)


@pytest.fixture
def dripping() -> Iterator[Callable[[bytes, bytes], int]]:
    """A server that says some bytes at once and then, again and again, one byte of others; its port."""
    listeners: list[socket.socket] = []

    def started(at_once: bytes, drops: bytes) -> int:
        listener = socket.create_server(("127.0.0.1", 0))
        listeners.append(listener)

        def drip(visitor: socket.socket) -> None:
            try:
                visitor.sendall(at_once)
                while True:
                    for drop in drops:
                        visitor.sendall(bytes([drop]))
                        time.sleep(0.05)
            except OSError:
                visitor.close()

        def serve() -> None:
            while True:
                try:
                    visitor, _ = listener.accept()
                except OSError:
                    return
                threading.Thread(target=drip, args=(visitor,), daemon=True).start()

        threading.Thread(target=serve, daemon=True).start()
        return int(listener.getsockname()[1])

    yield started
    for listener in listeners:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()


@pytest.mark.parametrize(
    ("security", "at_once", "drops"),
    [
        ("none", b"", b"220-welcome to the workshop\r\n"),
        ("none", b"220 hello\r\n", b"250-SIZE\r\n"),
        ("none", b"220 hello\r\n250 here\r\n250 sender\r\n", b"250 recipient "),
        ("starttls", b"220 hello\r\n250-here\r\n250 STARTTLS\r\n220 go on\r\n", b"\x16\x03\x03\x20\xff"),
        ("tls", b"", b"\x16\x03\x03\x20\xff"),
    ],
)
def test_a_mail_server_that_drips(security, at_once, drops, good_night, around, dripping) -> None:
    mail = replace(MAIL, security=security, port=dripping(at_once, drops))
    begin = time.monotonic()
    record = InMemoryRecord()
    outcome = deliver_mail(mail, notification_of(good_night), context=around(), record=record)
    assert time.monotonic() - begin < LONGEST_S
    assert (outcome.delivered, outcome.tries, record.kept) == (False, 1, {})
    assert security == "starttls" or "does not answer within 0.8 s" in outcome.message


@pytest.mark.parametrize(
    ("scheme", "at_once", "drops"),
    [
        ("http", b"HTTP/1.1 200 OK\r\n", b"X-More: 1\r\n"),
        ("http", b"", b" "),
        ("https", b"", b"\x16\x03\x03\x20\xff"),
    ],
)
def test_a_webhook_that_drips(scheme, at_once, drops, good_night, around, dripping) -> None:
    taken = b" 200 " in at_once  # the status was an answer, which on a busy machine takes its time
    hook = WebhookSettings(
        url=f"{scheme}://127.0.0.1:{dripping(at_once, drops)}/oil", tries=1, timeout_s=TIME_S * (2 if taken else 1)
    )
    begin = time.monotonic()
    outcome = deliver_webhook(hook, notification_of(good_night), context=around(), record=InMemoryRecord())
    assert time.monotonic() - begin < hook.timeout_s + LONGEST_S - TIME_S
    assert (outcome.delivered, outcome.tries) == (taken, 1)


def test_an_answer_to_the_last_line_that_does_not_come_is_not_asked_for_twice(good_night, around, free_port) -> None:
    class Slow:
        arrived = 0

        async def handle_DATA(self, _server: Any, _session: Any, _envelope: Any) -> str:
            Slow.arrived += 1
            await asyncio.sleep(2 * TIME_S)
            return "250 OK"

    controller = Controller(Slow(), hostname="127.0.0.1", port=free_port)
    controller.start()
    record, notification = InMemoryRecord(), notification_of(good_night)
    mail = replace(MAIL, port=free_port, tries=3)
    outcome = deliver_mail(mail, notification, context=around(), record=record)
    again = deliver_mail(mail, notification, context=around(), record=record)
    controller.stop()
    assert (outcome.delivered, outcome.tries, Slow.arrived) == (False, 1, 1)
    assert "it is not known whether the mail reached a@team.example" in outcome.message
    assert record.kept == {("mail", "a@team.example"): SendingState.HANDING_OVER}
    assert (again.delivered, again.tries, again.message) == (False, 0, outcome.message)


def test_the_night_is_over_before_the_tries_are(good_night, dripping, tmp_path) -> None:
    begin = time.monotonic()
    context = DeliveryContext(tmp_path, {}, night_ends=begin + 1.0)
    mail = replace(MAIL, port=dripping(b"", b"220-"), tries=9, first_wait_s=0.1)
    outcome = deliver_mail(mail, notification_of(good_night), context=context, record=InMemoryRecord())
    assert time.monotonic() - begin < 2.5
    assert not outcome.delivered
    assert outcome.message.endswith("the night's time is over, and the next night sends it")
