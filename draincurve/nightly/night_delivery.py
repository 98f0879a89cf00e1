"""A night's report, or the news that there is none, on its way out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from draincurve.nightly.delivery.deliver import deliver
from draincurve.nightly.delivery.night_report import DeliveryOutcome, NightReport, Surroundings
from draincurve.reports.content.report_content import ReportContent
from draincurve.schemas.delivery_settings import MailSettings, WebhookSettings
from draincurve.schemas.nightly_settings import NightlyFile


def deliver_report(
    file: NightlyFile,
    started: datetime,
    content: ReportContent,
    folder: Path,
    seconds: float,
    digest: str,
    done: Collection[str],
) -> tuple[DeliveryOutcome, ...]:
    """Delivers a report that is whole, but not by the ways in `done`, by which this very report went out before.

    The digest names the report to its receivers, so that they can tell one that comes twice. Never raises.
    """
    wanted = file.settings.delivery
    wanted = replace(
        wanted,
        mail=MailSettings() if "mail" in done else wanted.mail,
        webhook=WebhookSettings() if "webhook" in done else wanted.webhook,
    )
    report = NightReport(digest, started, content, folder, seconds)
    return deliver(wanted, report, Surroundings(base=file.base))


def deliver_fault(
    file: NightlyFile, started: datetime, fault: str, seconds: float, last_good_at: datetime | None
) -> tuple[DeliveryOutcome, ...]:
    """Delivers the news that a night failed. Never raises."""
    report = NightReport(f"failed-{started.isoformat()}", started, None, None, seconds, fault, last_good_at)
    return deliver(file.settings.delivery, report, Surroundings(base=file.base))
