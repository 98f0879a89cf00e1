"""Delivers a night's report, or the news that the night failed, in every way that the settings name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from draincurve.nightly.delivery.delivery_record import DeliveryRecord
from draincurve.nightly.delivery.mail_delivery import deliver_mail
from draincurve.nightly.delivery.metrics_file import deliver_metrics
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, Way
from draincurve.nightly.delivery.notification import Notification
from draincurve.nightly.delivery.publication import Publication, deliver_publication
from draincurve.nightly.delivery.retrying import PermanentError
from draincurve.nightly.delivery.webhook_delivery import deliver_webhook
from draincurve.schemas.delivery_settings import DeliverySettings


def deliver(
    delivery: DeliverySettings,
    notification: Notification,
    *,
    publication: Publication,
    started_at: datetime,
    duration_s: float,
    context: DeliveryContext,
    record: DeliveryRecord,
) -> tuple[DeliveryOutcome, ...]:
    """Mail, webhook, tables and metrics of a night, good or failed: one outcome for each way with something to do.

    Never raises. record : receivers whom this notification reached before; they are not sent it again. The metrics
    come last, since they count which other ways failed.
    """
    outcomes: list[DeliveryOutcome] = []
    if delivery.mail.host is not None:
        act = partial(deliver_mail, delivery.mail, notification, context=context, record=record)
        outcomes += _safely("mail", act)
    hook = delivery.webhook
    if hook.url is not None or hook.url_env is not None or hook.url_file is not None:
        outcomes += _safely("webhook", partial(deliver_webhook, hook, notification, context=context, record=record))
    if publication.settings.address is not None and publication.nights:
        outcomes += _safely("publish", partial(deliver_publication, publication, context=context, record=record))
    if delivery.metrics.file is not None:
        write = partial(
            deliver_metrics,
            delivery.metrics,
            notification,
            outcomes=tuple(outcomes),
            started_at=started_at,
            duration_s=duration_s,
            context=context,
        )
        outcomes += _safely("metrics", write)
    return tuple(outcomes)


def _safely(way: Way, act: Callable[[], DeliveryOutcome | None]) -> list[DeliveryOutcome]:
    """The outcome, also where the program itself is at fault: the report is complete by now and must stay."""
    try:
        outcome = act()
    except PermanentError as fault:
        return [DeliveryOutcome(way, False, 1, str(fault))]
    except Exception as fault:
        # Only the kind of fault is given: its message may hold a secret.
        return [DeliveryOutcome(way, False, 1, f"a fault of the program ({type(fault).__name__}); please report it")]
    return [] if outcome is None else [outcome]
