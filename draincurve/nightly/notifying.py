"""Sends the notification of a night's report through the outbox, or the news that the night failed."""

from __future__ import annotations

import time
from datetime import datetime

from draincurve.nightly.delivery.delivery_record import DeliveryRecord, InMemoryRecord
from draincurve.nightly.delivery.night_delivery import deliver
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.notification import Notification, notification_of
from draincurve.nightly.delivery.publication import Publication
from draincurve.nightly.delivery.published_tables import KeptNight
from draincurve.schemas.nightly_settings import NightlyFile

NO_NOTIFICATION = (
    "The report is whole, but nothing was delivered: a fault of the program in its summary; please report it."
)
SHORTEST_S = 60.0
"""Time to send the news that a night failed, however late it is [s]."""


def notification_if_any(report: NightReport) -> Notification | None:
    """The notification of a report; None where the program is at fault, which must not cost the report."""
    try:
        return notification_of(report)
    except Exception:
        return None


def send_notification(
    file: NightlyFile,
    notification: Notification,
    *,
    record: DeliveryRecord,
    nights: tuple[KeptNight, ...] = (),
    started: datetime,
    seconds: float,
    left_s: float,
) -> tuple[DeliveryOutcome, ...]:
    """Send a notification to all who have not been sent it, and publish the nights.

    nights : those whose report is kept, the notification's last
    started, seconds : of this night [s]; left_s : time for it [s]. Raises nothing, except when the night is stopped.
    """
    context = DeliveryContext(base=file.base, night_ends=time.monotonic() + left_s)
    return deliver(
        file.settings.delivery,
        notification,
        publication=Publication(file.settings.publish, nights),
        started_at=started,
        duration_s=seconds,
        context=context,
        record=record,
    )


def send_failure(
    file: NightlyFile, fault: str, *, started: datetime, seconds: float, left_s: float, last_good_at: datetime | None
) -> tuple[DeliveryOutcome, ...]:
    """Send the news that a night failed; a later night does not send it again. As send_notification."""
    failed = NightReport(f"failed-{started.isoformat()}", started, None, None, seconds, fault, last_good_at)
    left_s = max(left_s, SHORTEST_S)
    record = InMemoryRecord()
    return send_notification(
        file, notification_of(failed), record=record, started=started, seconds=seconds, left_s=left_s
    )
