"""Mail against servers on this machine: one that takes it, and all those that do not."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from draincurve.nightly.delivery.delivery_record import InMemoryRecord
from draincurve.nightly.delivery.mail_delivery import deliver_mail
from draincurve.nightly.delivery.mail_message import attached_files, night_message
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.notification import notification_of
from draincurve.schemas.delivery_settings import MailSettings

USER, PASSWORD = "bench-user-81", "tray of grey oil 4711"
LOGIN = {"MAIL_USER": USER, "MAIL_PASSWORD": PASSWORD}
MAIL = MailSettings(
    host="127.0.0.1",
    sender="bench@workshop.example",
    recipients=("a@team.example", "b@team.example"),
    tries=3,
    first_wait_s=2.0,
    timeout_s=5.0,
)
PLAIN = replace(MAIL, security="none")

pytestmark = pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")  # loopback, on purpose


@dataclass
class PostBox:
    """Keeps what arrives; `rcpt` holds replies to give before recipients are taken, by address."""

    rcpt: dict[str, list[str]] = field(default_factory=dict)
    data: list[str] = field(default_factory=list)
    arrived: list[tuple[list[str], EmailMessage]] = field(default_factory=list)

    async def handle_RCPT(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:
        if self.rcpt.get(address):
            return self.rcpt[address].pop(0)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        if self.data:
            return self.data.pop(0)
        message = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(message, EmailMessage)
        self.arrived.append((list(envelope.rcpt_tos), message))
        return "250 OK"


def accepts(server: Any, session: Any, envelope: Any, mechanism: str, auth_data: Any) -> AuthResult:
    assert isinstance(auth_data, LoginPassword)
    right = auth_data == LoginPassword(USER.encode(), PASSWORD.encode())
    return AuthResult(success=right, handled=right)


def mailed(mail: MailSettings, night: NightReport, *, context: DeliveryContext) -> DeliveryOutcome:
    """The outcome of a night that nobody has been sent yet."""
    outcome = deliver_mail(mail, notification_of(night), context=context, record=InMemoryRecord())
    assert outcome is not None
    return outcome


@pytest.fixture
def served(free_port: int) -> Iterator[Callable[..., int]]:
    running: list[Controller] = []

    def started(box: PostBox, **options: Any) -> int:
        controller = Controller(box, hostname="127.0.0.1", port=free_port, **options)
        controller.start()
        running.append(controller)
        return free_port

    yield started
    for controller in running:
        controller.stop()


def test_a_good_night_arrives_as_text_html_and_files(good_night, around, served, waits):
    box = PostBox()
    mail = replace(PLAIN, port=served(box), attach=("report.html", "report.pdf", "service.ics", "tables.xlsx"))
    outcome = mailed(mail, good_night, context=around())
    assert outcome.delivered
    assert (outcome.tries, outcome.left_out, waits.seconds) == (1, (), [])
    [(recipients, message)] = box.arrived
    assert recipients == ["a@team.example", "b@team.example"]
    assert str(message["Subject"]).startswith("Next service, 13 May 2026: inspect 2 units now")
    assert message["Auto-Submitted"] == "auto-generated"
    assert parsedate_to_datetime(message["Date"]) == good_night.started_at
    text, html = message.get_body(("plain",)), message.get_body(("html",))
    assert text is not None
    assert html is not None
    assert "F10 (machine 5, right): burnt" in text.get_content()
    assert "<strong><bdi>F10 (machine 5, right)</bdi></strong>" in html.get_content()
    attached = {part.get_filename(): part.get_payload(decode=True) for part in message.iter_attachments()}
    assert attached == {path.name: path.read_bytes() for path in good_night.folder.iterdir()}
    kinds = {part.get_filename(): part.get_content_type() for part in message.iter_attachments()}
    assert kinds["report.pdf"] == "application/pdf"
    assert kinds["service.ics"] == "text/calendar"


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_encrypted_with_user_and_password(security, good_night, around, served, certificates, server_context):
    box = PostBox()
    options = {"tls_context": server_context} if security == "starttls" else {"ssl_context": server_context}
    port = served(box, authenticator=accepts, auth_required=True, auth_require_tls=security == "starttls", **options)
    mail = replace(
        MAIL,
        port=port,
        security=security,
        ca_file=str(certificates / "ca.pem"),
        user_env="MAIL_USER",
        password_env="MAIL_PASSWORD",
    )
    assert (
        mailed(mail, good_night, context=around(**LOGIN)).message
        == "sent to a@team.example, b@team.example by 127.0.0.1"
    )
    assert len(box.arrived) == 1


def test_password_out_of_a_file_beside_the_settings(good_night, around, served, tmp_path):
    box = PostBox()
    port = served(box, authenticator=accepts, auth_required=True, auth_require_tls=False)
    (tmp_path / "user").write_text(f"{USER}\n")
    (tmp_path / "password").write_text(f"{PASSWORD}\r\n")
    mail = replace(PLAIN, port=port, user_file="user", password_file="password")
    assert mailed(mail, good_night, context=around()).delivered


def test_a_wrong_password_is_not_tried_again_and_never_said(good_night, around, served, waits, caplog, capfd):
    caplog.set_level(logging.DEBUG)
    port = served(PostBox(), authenticator=accepts, auth_required=True, auth_require_tls=False)
    mail = replace(PLAIN, port=port, user_env="MAIL_USER", password_env="MAIL_PASSWORD")
    wrong = f"{PASSWORD}!"
    outcome = mailed(mail, good_night, context=around(MAIL_USER=USER, MAIL_PASSWORD=wrong))
    assert (outcome.delivered, outcome.tries, waits.seconds) == (False, 1, [])
    assert "does not accept user and password (535)" in outcome.message
    own = [record.getMessage() for record in caplog.records if not record.name.startswith("mail.log")]
    printed = capfd.readouterr()
    assert not any(secret in place for secret in (USER, wrong) for place in (repr(outcome), *own, *printed))


def test_a_secret_that_is_missing_is_named_by_its_place(good_night, around):
    mail = replace(PLAIN, port=9, user_env="MAIL_USER", password_file="no such file")
    assert "set environment variable MAIL_USER" in mailed(mail, good_night, context=around()).message
    outcome = mailed(mail, good_night, context=around(MAIL_USER=USER))
    assert "no such file cannot be read" in outcome.message
    assert outcome.tries == 0
    outcome = mailed(
        replace(mail, user_env="MAIL_USER", password_file=None), good_night, context=around(MAIL_USER="a\nb")
    )
    assert "is not one line" in outcome.message


@pytest.mark.parametrize("ca", ["stranger.pem", None])
@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_nobody_vouches_for_gets_no_mail(
    ca, security, good_night, around, served, certificates, server_context, waits
):
    box = PostBox()
    options = {"tls_context": server_context} if security == "starttls" else {"ssl_context": server_context}
    mail = replace(
        MAIL, port=served(box, **options), security=security, ca_file=None if ca is None else str(certificates / ca)
    )
    outcome = mailed(mail, good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds, box.arrived) == (False, 1, [], [])
    assert "certificate that is not trusted" in outcome.message


def test_a_ca_file_that_is_none(good_night, around, tmp_path):
    assert "cannot be read" in mailed(replace(MAIL, ca_file="gone.pem"), good_night, context=around()).message
    (tmp_path / "odd.pem").write_text("no certificate")
    assert (
        "no certificate that can be read"
        in mailed(replace(MAIL, ca_file="odd.pem"), good_night, context=around()).message
    )


def test_a_server_without_starttls_gets_nothing_in_the_clear(good_night, around, served):
    box = PostBox()
    outcome = mailed(replace(MAIL, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries, box.arrived) == (False, 1, [])
    assert "does not offer" in outcome.message


def test_a_refusal_for_good_is_not_tried_again(good_night, around, served, waits):
    box = PostBox(data=["552 too large"])
    outcome = mailed(replace(PLAIN, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds) == (False, 1, [])
    assert "552 too large" in outcome.message


def test_a_refusal_for_now_is_tried_again_with_longer_waits(good_night, around, served, waits):
    box = PostBox(data=["451 later", "451 later"])
    outcome = mailed(replace(PLAIN, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds) == (True, 3, [2.0, 4.0])


def test_nobody_gets_it_twice_when_another_has_to_wait(good_night, around, served, waits):
    box = PostBox(rcpt={"b@team.example": ["450 greylisted"]})
    outcome = mailed(replace(PLAIN, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds) == (True, 2, [2.0])
    assert [recipients for recipients, _ in box.arrived] == [["a@team.example"], ["b@team.example"]]
    assert len({message["Message-ID"] for _, message in box.arrived}) == 1


def test_one_address_refused_for_good_is_said_and_the_other_served_once(good_night, around, served, waits):
    box = PostBox(rcpt={"b@team.example": ["550 nobody here", "550 nobody here"]})
    outcome = mailed(replace(PLAIN, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds, len(box.arrived)) == (False, 1, [], 1)
    assert "refuses b@team.example: 550 nobody here" in outcome.message


def test_all_addresses_refused_for_good(good_night, around, served):
    box = PostBox(rcpt={address: ["550 no"] for address in MAIL.recipients})
    outcome = mailed(replace(PLAIN, port=served(box)), good_night, context=around())
    assert (outcome.delivered, outcome.tries) == (False, 1)
    assert "a@team.example: 550 no; b@team.example: 550 no" in outcome.message


@pytest.mark.parametrize(
    ("says", "said"), [(b"", "broke off"), (b"220 hello\r\n", "broke off"), (b"421 busy\r\n", "421 busy")]
)
def test_a_server_that_drops_the_line(says, said, good_night, around, rude_server, waits):
    server = rude_server(says)
    outcome = mailed(replace(PLAIN, port=server.port), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds) == (False, 3, [2.0, 4.0])
    assert said in outcome.message or "cannot be reached" in outcome.message
    assert outcome.message.endswith("tried 3 times")
    assert server.visits == 3


def test_a_server_that_never_answers(good_night, around, rude_server):
    server = rude_server(None)
    mail = replace(PLAIN, port=server.port, timeout_s=0.2, tries=2)
    outcome = mailed(mail, good_night, context=around())
    assert (outcome.delivered, outcome.tries) == (False, 2)
    assert "does not answer within 0.2 s" in outcome.message


def test_no_server_at_all(good_night, around, free_port, waits):
    outcome = mailed(replace(PLAIN, port=free_port), good_night, context=around())
    assert (outcome.delivered, outcome.tries, waits.seconds) == (False, 3, [2.0, 4.0])
    assert "cannot be reached" in outcome.message


def test_a_server_that_repeats_the_password_does_not_get_it_printed(good_night, around, served):
    box = PostBox(data=[f"554 no mail from {USER} with {PASSWORD}"])
    port = served(box, authenticator=accepts, auth_required=True, auth_require_tls=False)
    mail = replace(PLAIN, port=port, user_env="MAIL_USER", password_env="MAIL_PASSWORD")
    said = mailed(mail, good_night, context=around(**LOGIN)).message
    assert "554 no mail from [hidden] with [hidden]" in said


def test_files_over_the_limit_are_left_out_and_named(good_night, around, served):
    (good_night.folder / "report.html").write_bytes(b"x" * 900)
    box = PostBox()
    mail = replace(PLAIN, port=served(box), attach=("report.html", "report.pdf", "service.ics"), largest_mb=0.001)
    outcome = mailed(mail, good_night, context=around())
    assert outcome.delivered
    [sentence] = outcome.left_out
    assert sentence.startswith("report.pdf is not attached")
    message = box.arrived[0][1]
    assert [part.get_filename() for part in message.iter_attachments()] == ["report.html", "service.ics"]
    assert sentence.removesuffix(".").split(":")[0] in " ".join(message.get_body(("plain",)).get_content().split())


def test_a_file_that_is_not_there_is_named(good_night):
    (good_night.folder / "report.pdf").unlink()
    files = attached_files(notification_of(good_night), replace(MAIL, attach=("report.pdf", "report.html")))
    assert list(files.contents) == ["report.html"]
    assert files.left_out == ("report.pdf is not attached: this report has no such file.",)


def test_a_failed_night_says_so_and_how_old_the_last_good_report_is(failed_night, around, served):
    box = PostBox()
    outcome = mailed(replace(PLAIN, port=served(box)), failed_night, context=around())
    assert outcome.delivered
    message = box.arrived[0][1]
    assert str(message["Subject"]) == "Next service, 13 May 2026: there is no new report"
    text = " ".join(message.get_body(("plain",)).get_content().split())
    assert "drains.csv: no such file" in text
    assert "The last good report is from Tue 12 May 2026, 03:31 (1 day ago)" in text
    assert list(message.iter_attachments()) == []


def test_sent_again_it_is_the_same_mail_and_another_outcome_is_another(good_night, failed_night):
    def headers(night: Any) -> tuple[str, str]:
        message = night_message(notification_of(night), MAIL, files=attached_files(notification_of(night), MAIL))
        return str(message["Message-ID"]), str(message["Date"])

    assert headers(good_night) == headers(replace(good_night))
    ids = {headers(night)[0] for night in (good_night, failed_night, replace(good_night, run_id="run 8"))}
    assert len(ids) == 3
    assert all(name.startswith("<draincurve.") and name.endswith("@workshop.example>") for name in ids)


@pytest.mark.parametrize("nasty", ["F07\r\nBcc: x@evil.example", "F\u202e07\x1b[31m", "F\u2028Bcc: x\u0085Bcc: y"])
def test_no_unit_name_reaches_a_header_or_breaks_a_line(nasty, good_night):
    content = good_night.content
    row = replace(content.rows[0], name=nasty)
    first = replace(content.first, due=(replace(content.first.due[0], row=row),), headline=f"{nasty} is due now.")
    night = replace(good_night, content=replace(content, first=first))
    message = night_message(notification_of(night), MAIL, files=attached_files(notification_of(night), MAIL))
    again = message_from_bytes(message.as_bytes(), policy=policy.default)
    assert set(again.keys()) == {
        "Subject",
        "From",
        "To",
        "Date",
        "Message-ID",
        "Auto-Submitted",
        "MIME-Version",
        "Content-Type",
    }
    assert again["To"] == "a@team.example, b@team.example"
    text = again.get_body(("plain",)).get_content()
    assert not any(line.startswith("Bcc") for line in text.splitlines())
    assert not set("\x1b\u202e\u2028\u0085") & set(text + str(again["Subject"]))


def test_mail_in_the_settings_cannot_go_out_in_the_clear_unasked(tmp_path: Path):
    from draincurve.schemas.delivery_settings import DeliverySettings, checked_delivery
    from draincurve.schemas.errors import SettingsError

    far = replace(PLAIN, host="mail.team.example")
    with pytest.raises(SettingsError, match="in the clear"):
        checked_delivery(DeliverySettings(mail=far), "nightly.toml")
    checked_delivery(DeliverySettings(mail=replace(far, plain_allowed=True)), "nightly.toml")
    checked_delivery(DeliverySettings(mail=PLAIN), "nightly.toml")
