"""A mail server of this machine that counts what it accepts, and sends a signal to its client at a chosen instant."""

from __future__ import annotations

import asyncio
import os
import socket
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes
from typing import Any

from aiosmtpd.controller import Controller

STAGES = ("greeted", "recipient", "accepted", "answered")
"""Before the sender is taken; before a recipient is; before the answer to a message that is accepted; after it."""

MAIL = """
[delivery.mail]
host = "127.0.0.1"
port = {port}
security = "none"
sender = "a@b.example"
recipients = ["c@d.example", "e@f.example"]
tries = 2
first_wait_s = 0
timeout_s = 5
"""


@dataclass
class CountingBox:
    """Counts messages by id and recipient. aim : stage, delay [s], process and signal of the next shot."""

    arrived: Counter[tuple[str, str]] = field(default_factory=Counter)
    aim: tuple[str, float, int, int] | None = None

    def _shoot(self, stage: str) -> None:
        if self.aim is None or self.aim[0] != stage:
            return
        _, delay_s, pid, number = self.aim
        self.aim = None
        if delay_s == 0.0:
            self._kill(pid, number)
        else:
            asyncio.get_running_loop().call_later(delay_s, self._kill, pid, number)

    @staticmethod
    def _kill(pid: int, number: int) -> None:
        with suppress(ProcessLookupError):
            os.kill(pid, number)

    async def handle_MAIL(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:
        self._shoot("greeted")
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:
        self._shoot("recipient")
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        name = str(message_from_bytes(envelope.content)["Message-ID"])
        self.arrived.update((name, address) for address in envelope.rcpt_tos)
        self._shoot("accepted")
        if self.aim is not None and self.aim[0] == "answered":
            asyncio.get_running_loop().call_soon(self._shoot, "answered")
        return "250 OK"


@contextmanager
def counting_server() -> Iterator[tuple[CountingBox, int]]:
    """The box and the port of a server that runs within the block."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = int(listener.getsockname()[1])
    box = CountingBox()
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield box, port
    finally:
        controller.stop()
