"""All ways together: what is asked for, in order, and never an exception."""

from __future__ import annotations

from dataclasses import replace

import pytest

from draincurve.nightly.delivery import night_delivery
from draincurve.nightly.delivery.delivery_record import InMemoryRecord
from draincurve.nightly.delivery.metrics_file import deliver_metrics
from draincurve.nightly.delivery.night_delivery import deliver
from draincurve.nightly.delivery.night_report import DeliveryContext, NightReport
from draincurve.nightly.delivery.notification import notification_of
from draincurve.nightly.delivery.publication import Publication
from draincurve.schemas.delivery_settings import (
    DeliverySettings,
    MailSettings,
    MetricsSettings,
    PublishSettings,
    WebhookSettings,
)

EVERYTHING = DeliverySettings(
    MailSettings(
        host="127.0.0.1",
        port=9,
        security="none",
        sender="bench@workshop.example",
        recipients=("a@team.example",),
        tries=1,
    ),
    WebhookSettings(url="http://127.0.0.1:9/", tries=1),
    MetricsSettings("draincurve.prom"),
)


def delivered(delivery: DeliverySettings, night: NightReport, *, context: DeliveryContext):
    notification = notification_of(night)
    return deliver(
        delivery,
        notification,
        publication=Publication(PublishSettings()),
        started_at=night.started_at,
        duration_s=1.0,
        context=context,
        record=InMemoryRecord(),
    )


def test_nothing_asked_for_nothing_done(good_night, around, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    assert delivered(DeliverySettings(), good_night, context=around()) == ()
    assert sorted(tmp_path.rglob("*")) == before


def test_the_metrics_count_what_failed_before_them(good_night, around, tmp_path):
    outcomes = delivered(EVERYTHING, good_night, context=around())
    assert [(outcome.way, outcome.delivered) for outcome in outcomes] == [
        ("mail", False),
        ("webhook", False),
        ("metrics", True),
    ]
    assert "draincurve_delivery_failures 2\n" in (tmp_path / "draincurve.prom").read_text()


def test_a_fault_of_the_program_is_an_outcome_without_its_words(good_night, around, monkeypatch):
    def broken(*_, **__):
        raise ValueError("password 4711")

    for way in ("deliver_mail", "deliver_webhook", "deliver_metrics"):
        monkeypatch.setattr(night_delivery, way, broken)
    outcomes = delivered(EVERYTHING, good_night, context=around())
    assert [outcome.way for outcome in outcomes] == ["mail", "webhook", "metrics"]
    assert not any(outcome.delivered or "4711" in outcome.message for outcome in outcomes)


@pytest.mark.parametrize("missing", ["folder", "files"])
def test_a_report_that_is_gone_meanwhile_costs_nothing_else(missing, good_night, around):
    for file in good_night.folder.iterdir():
        file.unlink()
    if missing == "folder":
        good_night.folder.rmdir()
    [mail, *_] = delivered(EVERYTHING, good_night, context=around())
    assert mail.left_out == ("report.html is not attached: this report has no such file.",)


def test_outcomes_and_context_print_no_secret(good_night, around):
    mail = replace(EVERYTHING.mail, user_env="U", password_env="P")
    context = around(U="bench", P="grey oil 4711")
    outcomes = delivered(replace(EVERYTHING, mail=mail), good_night, context=context)
    assert "4711" not in repr(outcomes) + repr(context) + repr(deliver_metrics)
