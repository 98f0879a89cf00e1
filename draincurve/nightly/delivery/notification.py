"""The notification of a night: texts and counts that need no report, so that a later night can send them too."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any

from draincurve.nightly.delivery.night_report import NightReport
from draincurve.nightly.delivery.webhook_payload import payload
from draincurve.reports.mail_and_calendar.report_mail import MailText, failure_mail, report_mail


@dataclass(frozen=True)
class Notification:
    """What is sent about one night.

    name : the same when it is sent again; started_at : of the night that made it, with its time zone; mail : without
    sentences on attached files; body : JSON in ASCII, as it is posted; folder : of the report, None after a failure
    """

    name: str
    started_at: datetime
    mail: MailText
    body: str
    folder: Path | None

    @cached_property
    def fields(self) -> dict[str, Any]:
        """The fields of the body; see webhook_payload.PAYLOAD."""
        parsed: dict[str, Any] = json.loads(self.body)
        return parsed


def notification_of(night: NightReport) -> Notification:
    """The notification of a night, good or failed."""
    if night.content is None:
        mail = failure_mail(night.started_at.date(), night.fault, last_good_at=night.last_good_at)
    else:
        mail = report_mail(night.content)
    body = json.dumps(payload(night), ensure_ascii=True, allow_nan=False)
    return Notification(night.delivery_id, night.started_at, mail, body, night.folder)
