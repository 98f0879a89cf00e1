"""The mail of a night as a message: the same headers when it is sent again, two bodies, attached files."""

from __future__ import annotations

from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import Path

from draincurve.nightly.delivery.notification import Notification
from draincurve.reports.mail_and_calendar.report_mail import with_files
from draincurve.schemas.delivery_settings import MailSettings

MEGABYTE = 1_000_000
MEDIA_TYPES = {
    ".html": ("text", "html"),
    ".pdf": ("application", "pdf"),
    ".ics": ("text", "calendar"),
    ".xlsx": ("application", "vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}


@dataclass(frozen=True, slots=True)
class AttachedFiles:
    """Files attached to a mail, by name, and a sentence on each that is left out."""

    contents: dict[str, bytes]
    left_out: tuple[str, ...]


def night_message(notification: Notification, mail: MailSettings, *, files: AttachedFiles) -> EmailMessage:
    """The message of a night. The same notification always has the same Message-ID and date."""
    mail_text = with_files(notification.mail, attached=tuple(files.contents), left_out=files.left_out)
    sender = mail.sender or ""
    message = EmailMessage(policy=SMTP)
    message["Subject"] = mail_text.subject
    message["From"] = sender
    message["To"] = ", ".join(mail.recipients)
    message["Date"] = format_datetime(notification.started_at)
    message["Message-ID"] = f"<draincurve.{notification.name}@{_domain(sender)}>"
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(mail_text.text)
    message.add_alternative(mail_text.html, subtype="html")
    for name, content in files.contents.items():
        maintype, subtype = MEDIA_TYPES[Path(name).suffix]
        message.add_attachment(content, maintype=maintype, subtype=subtype, filename=name)
    return message


def attached_files(notification: Notification, mail: MailSettings) -> AttachedFiles:
    """Files in the order of the settings, as far as they exist and fit together under the size limit."""
    contents: dict[str, bytes] = {}
    left_out: list[str] = []
    room = mail.largest_mb * MEGABYTE
    for name in mail.attach if notification.folder is not None else ():
        content = _content(notification.folder, name)
        if isinstance(content, str):
            left_out.append(content)
        elif len(content) > room:
            size, limit = len(content) / MEGABYTE, mail.largest_mb
            left_out.append(f"{name} is not attached: with its {size:.1f} MB the files would be over {limit:g} MB.")
        else:
            contents[name] = content
            room -= len(content)
    return AttachedFiles(contents, tuple(left_out))


def _content(folder: Path | None, name: str) -> bytes | str:
    """The file, or a sentence on why it is not attached."""
    assert folder is not None
    try:
        return (folder / name).read_bytes()
    except FileNotFoundError:
        return f"{name} is not attached: this report has no such file."
    except OSError as fault:
        return f"{name} is not attached: it cannot be read ({fault.strerror})."


def _domain(sender: str) -> str:
    domain = sender.rpartition("@")[2]
    return domain if domain.isascii() and domain else "draincurve.invalid"
