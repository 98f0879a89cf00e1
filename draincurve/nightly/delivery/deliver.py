"""Every way of delivery that the settings ask for, one after the other; none of them can cost the report."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Literal

from draincurve.nightly.delivery.mail import deliver_mail
from draincurve.nightly.delivery.metrics import deliver_metrics
from draincurve.nightly.delivery.night_report import DeliveryOutcome, NightReport, Surroundings
from draincurve.nightly.delivery.webhook import deliver_webhook
from draincurve.schemas.delivery_settings import DeliverySettings


def deliver(
    delivery: DeliverySettings, night: NightReport, surroundings: Surroundings
) -> tuple[DeliveryOutcome, ...]:
    """Mail, webhook and metrics of a night, good or failed; never raises.

    One outcome for each way that the settings ask for. The metrics come last, since they count what failed before.
    """
    outcomes: list[DeliveryOutcome] = []
    if delivery.mail.host is not None:
        outcomes.append(_safely("mail", partial(deliver_mail, delivery.mail, night, surroundings)))
    hook = delivery.webhook
    if hook.url is not None or hook.url_env is not None or hook.url_file is not None:
        outcomes.append(_safely("webhook", partial(deliver_webhook, hook, night, surroundings)))
    if delivery.metrics.file is not None:
        write = partial(deliver_metrics, delivery.metrics, night, tuple(outcomes), surroundings)
        outcomes.append(_safely("metrics", write))
    return tuple(outcomes)


def _safely(way: Literal["mail", "webhook", "metrics"], act: Callable[[], DeliveryOutcome]) -> DeliveryOutcome:
    """The outcome, also where the program itself is at fault: the report is whole by now and has to stay so."""
    try:
        return act()
    except Exception as fault:
        # only the kind of fault is said: its words may hold what must not be printed
        return DeliveryOutcome(way, False, 1, f"a fault of the program ({type(fault).__name__}); please report it")
