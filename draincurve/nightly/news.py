"""What a night sends: the letter of its report through the outbox, or the news that it failed."""

from __future__ import annotations

import time
from datetime import datetime

from draincurve.nightly.delivery.delivery_record import DeliveryRecord, PassingRecord
from draincurve.nightly.delivery.letter import Letter, letter_of
from draincurve.nightly.delivery.night_delivery import deliver
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.publication import Publication
from draincurve.nightly.delivery.published_tables import KeptNight
from draincurve.schemas.nightly_settings import NightlyFile

NO_LETTER = "The report is whole, but nothing was delivered: a fault of the program in its summary; please report it."
SHORTEST_S = 60.0
"""Time for the news that a night failed, however late it is [s]."""


def letter_if_any(report: NightReport) -> Letter | None:
    """The letter of a report; None where the program is at fault, which must not cost the report."""
    try:
        return letter_of(report)
    except Exception:
        return None


def send_letter(
    file: NightlyFile,
    letter: Letter,
    *,
    record: DeliveryRecord,
    nights: tuple[KeptNight, ...] = (),
    started: datetime,
    seconds: float,
    left_s: float,
) -> tuple[DeliveryOutcome, ...]:
    """Send a letter to all who have not been sent it, and publish the nights.

    nights : those whose report is kept, the letter's last
    started, seconds : of this night [s]; left_s : time for it [s]. Raises nothing, except when the night is stopped.
    """
    context = DeliveryContext(base=file.base, night_ends=time.monotonic() + left_s)
    wanted = file.settings
    return deliver(
        wanted.delivery,
        letter,
        publication=Publication(wanted.publish, nights),
        started_at=started,
        duration_s=seconds,
        context=context,
        record=record,
    )


def send_fault(
    file: NightlyFile, fault: str, *, started: datetime, seconds: float, left_s: float, last_good_at: datetime | None
) -> tuple[DeliveryOutcome, ...]:
    """Send the news that a night failed; a later night does not send it again. As send_letter."""
    news = NightReport(f"failed-{started.isoformat()}", started, None, None, seconds, fault, last_good_at)
    left_s = max(left_s, SHORTEST_S)
    record = PassingRecord()
    return send_letter(file, letter_of(news), record=record, started=started, seconds=seconds, left_s=left_s)
