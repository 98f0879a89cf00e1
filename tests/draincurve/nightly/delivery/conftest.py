"""Nights to deliver, certificates made for the occasion, and servers on this machine that take them or misbehave."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from empty_pictures import empty_pictures

from draincurve.nightly.delivery.night_report import DeliveryContext, NightReport
from draincurve.reports.content.report_content import ReportContent, report_content
from tests.reports.invented_report import FleetShape, build_report

STARTED = datetime(2026, 5, 13, 3, 30, tzinfo=UTC)


@pytest.fixture(scope="session")
def hostile_content() -> ReportContent:
    with empty_pictures():
        return report_content(build_report(FleetShape(hostile=True)))


@pytest.fixture
def good_night(hostile_content: ReportContent, tmp_path: Path) -> NightReport:
    folder = tmp_path / "2026-05-13"
    folder.mkdir()
    (folder / "report.html").write_text("<!doctype html><title>F07 \u00e9</title>", encoding="utf-8")
    (folder / "report.pdf").write_bytes(b"%PDF-1.7 " + bytes(300))
    (folder / "service.ics").write_bytes(b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n")
    (folder / "tables.xlsx").write_bytes(b"PK\x03\x04" + bytes(50))
    return NightReport("run 7", STARTED, hostile_content, folder, 12.5)


@pytest.fixture
def failed_night(good_night: NightReport) -> NightReport:
    fault = "drains.csv: no such file; check the name and the folder"
    return replace(
        good_night, content=None, folder=None, fault=fault, last_good_at=datetime(2026, 5, 12, 3, 31, tzinfo=UTC)
    )


@dataclass
class Waits:
    """The waits that were asked for; none of them is waited."""

    seconds: list[float] = field(default_factory=list)

    def __call__(self, seconds: float) -> None:
        self.seconds.append(seconds)


@pytest.fixture
def waits() -> Waits:
    return Waits()


@pytest.fixture
def around(tmp_path: Path, waits: Waits) -> Callable[..., DeliveryContext]:
    def made(**variables: str) -> DeliveryContext:
        return DeliveryContext(tmp_path, variables, waits)

    return made


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with ca.pem, server.pem and server.key for this machine, and stranger.pem, which signed neither."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed, so there is no certificate to serve with")
    folder = tmp_path_factory.mktemp("certificates")
    _make_authority(folder, "ca")
    _make_authority(folder, "stranger")
    _openssl(folder, "req -newkey rsa:2048 -nodes -keyout server.key -out server.csr -subj /CN=localhost")
    (folder / "names").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n")
    signing = "x509 -req -in server.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 2 -out server.pem"
    _openssl(folder, f"{signing} -extfile names")
    return folder


def _make_authority(folder: Path, name: str) -> None:
    request = (
        f"req -x509 -newkey rsa:2048 -nodes -days 2 -keyout {name}.key -out {name}.pem -subj /CN=invented-{name}"
    )
    usage = ["-addext", "keyUsage=critical,keyCertSign"]
    _openssl(folder, request, *usage)


def _openssl(folder: Path, words: str, *more: str) -> None:
    subprocess.run(["openssl", *words.split(), *more], cwd=folder, check=True, capture_output=True, timeout=60)


@pytest.fixture(scope="session")
def server_context(certificates: Path) -> ssl.SSLContext:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificates / "server.pem", certificates / "server.key")
    return context


@pytest.fixture
def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@dataclass
class RudeServer:
    """Counts who comes, and treats each visitor the same bad way."""

    port: int
    visits: int = 0


@pytest.fixture
def rude_server() -> Iterator[Callable[[bytes | None], RudeServer]]:
    """A server that says these bytes and hangs up, or with None says nothing and holds the line."""
    ends: list[Callable[[], None]] = []

    def started(says: bytes | None) -> RudeServer:
        listener = socket.create_server(("127.0.0.1", 0))
        server = RudeServer(listener.getsockname()[1])
        held: list[socket.socket] = []

        def serve() -> None:
            while True:
                try:
                    visitor, _ = listener.accept()
                except OSError:
                    return
                server.visits += 1
                if says is None:
                    held.append(visitor)
                else:
                    visitor.sendall(says)
                    visitor.close()

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()

        def end() -> None:
            listener.shutdown(socket.SHUT_RDWR)
            listener.close()
            for visitor in held:
                visitor.close()
            thread.join(5)

        ends.append(end)
        return server

    yield started
    for end in ends:
        end()
