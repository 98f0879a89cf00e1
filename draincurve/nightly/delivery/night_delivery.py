"""Delivers a night's report, or the news that the night failed, in every way that the settings ask for."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Literal

from draincurve.nightly.delivery.mail_delivery import deliver_mail
from draincurve.nightly.delivery.metrics_file import deliver_metrics
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.nightly.delivery.webhook_delivery import deliver_webhook
from draincurve.reports.content.report_content import ReportContent
from draincurve.schemas.delivery_settings import DeliverySettings, MailSettings, WebhookSettings
from draincurve.schemas.nightly_settings import NightlyFile


def deliver_report(
    file: NightlyFile,
    content: ReportContent,
    *,
    started: datetime,
    folder: Path,
    seconds: float,
    digest: str,
    done: Collection[str],
) -> tuple[DeliveryOutcome, ...]:
    """Deliver a report, except by the ways in `done`, by which the same report was delivered before. Never raises.

    digest : names the report, so that its receivers recognise one that arrives twice
    """
    wanted = file.settings.delivery
    wanted = replace(
        wanted,
        mail=MailSettings() if "mail" in done else wanted.mail,
        webhook=WebhookSettings() if "webhook" in done else wanted.webhook,
    )
    report = NightReport(digest, started, content, folder, seconds)
    return deliver(wanted, report, context=DeliveryContext(base=file.base))


def deliver_fault(
    file: NightlyFile, fault: str, *, started: datetime, seconds: float, last_good_at: datetime | None
) -> tuple[DeliveryOutcome, ...]:
    """Deliver the news that a night failed. Never raises."""
    report = NightReport(f"failed-{started.isoformat()}", started, None, None, seconds, fault, last_good_at)
    return deliver(file.settings.delivery, report, context=DeliveryContext(base=file.base))


def deliver(
    delivery: DeliverySettings, night: NightReport, *, context: DeliveryContext
) -> tuple[DeliveryOutcome, ...]:
    """Mail, webhook and metrics of a night, good or failed: one outcome for each way in the settings. Never raises.

    The metrics come last, since they count which other ways failed.
    """
    outcomes: list[DeliveryOutcome] = []
    if delivery.mail.host is not None:
        outcomes.append(_safely("mail", partial(deliver_mail, delivery.mail, night, context=context)))
    hook = delivery.webhook
    if hook.url is not None or hook.url_env is not None or hook.url_file is not None:
        outcomes.append(_safely("webhook", partial(deliver_webhook, hook, night, context=context)))
    if delivery.metrics.file is not None:
        write = partial(deliver_metrics, delivery.metrics, night, outcomes=tuple(outcomes), context=context)
        outcomes.append(_safely("metrics", write))
    return tuple(outcomes)


def _safely(way: Literal["mail", "webhook", "metrics"], act: Callable[[], DeliveryOutcome]) -> DeliveryOutcome:
    """The outcome, also where the program itself is at fault: the report is complete by now and must stay."""
    try:
        return act()
    except Exception as fault:
        # Only the kind of fault is given: its message may hold a secret.
        return DeliveryOutcome(way, False, 1, f"a fault of the program ({type(fault).__name__}); please report it")
