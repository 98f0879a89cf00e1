"""Where a night's report goes and when: mail, webhook, metrics file, tables of a database, timer."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from draincurve.schemas.checked_settings import choice, choices, setting, switch, text, texts
from draincurve.schemas.errors import SettingsError

ATTACHABLE = ("report.html", "report.pdf", "work_list.pdf", "service.ics", "tables.xlsx")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_ADDRESS = r"[^\s@<>,;:\"()\[\]\\]+@[^\s@<>,;:\"()\[\]\\]+"
_ADDRESS_EXAMPLE = "bench@workshop.example"
_VARIABLE = r"[A-Za-z_][A-Za-z0-9_]*"
_HOST = r"[A-Za-z0-9._:-]+"
_SECRET = "the secret itself is never in the settings"


@dataclass(frozen=True, slots=True)
class MailSettings:
    """Mail with the first screen and the report's files; without a host no mail is sent."""

    host: str | None = text(None, "mail server that takes the report", _HOST, "mail.workshop.example")
    port: int = setting(587, 1, 65535, "port of the mail server; 587 for starttls, 465 for tls")
    security: str = choice("starttls", ("starttls", "tls", "none"), "how the connection is made secret")
    plain_allowed: bool = switch(False, "send without TLS to another machine, where anybody between may read it")
    ca_file: str | None = text(None, "file of certificates to trust instead of the system's own")
    user_env: str | None = text(None, f"environment variable with the user's name; {_SECRET}", _VARIABLE, "MAIL_USER")
    user_file: str | None = text(None, f"file with the user's name; {_SECRET}")
    password_env: str | None = text(
        None, f"environment variable with the password; {_SECRET}", _VARIABLE, "MAIL_PASSWORD"
    )
    password_file: str | None = text(None, f"file with the password; {_SECRET}")
    sender: str | None = text(None, "address that the mail comes from", _ADDRESS, _ADDRESS_EXAMPLE)
    recipients: tuple[str, ...] = texts("addresses that the mail goes to", _ADDRESS, _ADDRESS_EXAMPLE)
    attach: tuple[str, ...] = choices(("report.html",), ATTACHABLE, "files of the report that go with the mail")
    largest_mb: float = setting(8.0, 0, 100, "files attached together [MB]; what goes past it is left out and named")
    tries: int = setting(4, 1, 20, "times that sending is tried")
    first_wait_s: float = setting(15.0, 0, 3600, "wait before the second try [s]; it doubles with each further one")
    timeout_s: float = setting(30.0, 0.1, 600, "time for the whole of one try, up to the last answer [s]")


@dataclass(frozen=True, slots=True)
class WebhookSettings:
    """A POST of JSON to an address; without an address none is made."""

    url: str | None = text(
        None, "address that takes the JSON", example="https://hooks.workshop.example/oil", shown=False
    )
    url_env: str | None = text(None, "environment variable with the address, where it is secret", _VARIABLE, "HOOK")
    url_file: str | None = text(None, "file with the address, where it is secret")
    plain_allowed: bool = switch(False, "post by plain http to another machine, where anybody between may read it")
    ca_file: str | None = text(None, "file of certificates to trust instead of the system's own")
    token_env: str | None = text(
        None, f"environment variable with a bearer token; {_SECRET}", _VARIABLE, "HOOK_TOKEN"
    )
    token_file: str | None = text(None, f"file with a bearer token; {_SECRET}")
    signing_key_env: str | None = text(
        None, f"environment variable with the key that signs the body; {_SECRET}", _VARIABLE, "HOOK_KEY"
    )
    signing_key_file: str | None = text(None, f"file with the key that signs the body; {_SECRET}")
    tries: int = setting(4, 1, 20, "times that posting is tried")
    first_wait_s: float = setting(15.0, 0, 3600, "wait before the second try [s]; it doubles with each further one")
    timeout_s: float = setting(30.0, 0.1, 600, "time for the whole of one try, up to the last answer [s]")


@dataclass(frozen=True, slots=True)
class MetricsSettings:
    """A file that a monitoring agent picks up; without a file none is written."""

    file: str | None = text(
        None, "file for the metrics; its name ends in .prom", r".*\.prom", "metrics/draincurve.prom"
    )


@dataclass(frozen=True, slots=True)
class DeliverySettings:
    """Delivery of a finished report. Each part is optional."""

    mail: MailSettings = field(default_factory=MailSettings)
    webhook: WebhookSettings = field(default_factory=WebhookSettings)
    metrics: MetricsSettings = field(default_factory=MetricsSettings)


@dataclass(frozen=True, slots=True)
class PublishSettings:
    """Tables of the answers in PostgreSQL, for the shop's own dashboards; without an address none are written."""

    address: str | None = text(
        None,
        "database for next_service and next_service_history; PGPASSWORD or a password file has its password",
        r"postgres(ql)?://([^\s:@/?#]+@)?[^\s@#]*",
        "postgresql://bench@database/shop",
        shown=False,
    )
    schema: str = text(
        "draincurve",
        "schema that is made for these two tables",
        r"(?!pg_|public$|information_schema$)[a-z_][a-z0-9_]{0,62}",
        "draincurve",
    )
    tries: int = setting(4, 1, 20, "times that writing is tried")
    first_wait_s: float = setting(15.0, 0, 3600, "wait before the second try [s]; it doubles with each further one")
    timeout_s: float = setting(30.0, 0.1, 600, "time for the whole of one try [s]")


@dataclass(frozen=True, slots=True)
class ScheduleSettings:
    """When the timer starts a night, what it may take, and how many reports are kept."""

    at: str = text("03:30", "time of day at which a night starts, local time", r"([01]\d|2[0-3]):[0-5]\d", "03:30")
    days: tuple[str, ...] = choices(DAYS, DAYS, "days of the week on which it starts")
    random_delay_minutes: int = setting(
        10, 0, 720, "start up to this much later, so that machines do not all start at once [min]"
    )
    memory_mb: int = setting(2048, 256, 1048576, "memory past which the night is stopped [MB]")
    night_deadline_s: float = setting(
        1800.0,
        1,
        86400,
        "time for a night; past it delivery, or a report that is not finished, is given up [s]",
    )
    longest_minutes: int = setting(120, 1, 1440, "time past which the timer stops a night that did not end [min]")
    user: str | None = text(
        None, "account that runs the night; none: the one that runs schedule", r"[a-z_][a-z0-9_-]{0,30}\$?", "bench"
    )
    keep_reports: int = setting(30, 1, 10000, "reports kept; older ones are deleted")


def checked_delivery(delivery: DeliverySettings, source: str) -> DeliverySettings:
    """The settings, if they fit each other.

    Raises SettingsError for mail without sender or recipient, half a login, a secret named twice, and for
    anything that would go over the network in the clear without being allowed to.
    """
    _check_mail(delivery.mail, f"{source}: [delivery.mail]")
    _check_webhook(delivery.webhook, f"{source}: [delivery.webhook]")
    return delivery


def is_this_machine(host: str) -> bool:
    """Whether a host name is a loopback address, where nobody between can read along."""
    bare = host.strip("[]").rstrip(".").casefold()
    if bare == "localhost":
        return True
    try:
        return ipaddress.ip_address(bare).is_loopback
    except ValueError:
        return False


def _check_mail(mail: MailSettings, where: str) -> None:
    _named_once(where, user=(mail.user_env, mail.user_file), password=(mail.password_env, mail.password_file))
    if (mail.user_env or mail.user_file) and not (mail.password_env or mail.password_file):
        raise SettingsError(f"{where} names a user but no password; add password_env or password_file")
    if (mail.password_env or mail.password_file) and not (mail.user_env or mail.user_file):
        raise SettingsError(f"{where} names a password but no user; add user_env or user_file")
    if mail.host is None:
        return
    if mail.sender is None or not mail.recipients:
        raise SettingsError(f"{where} host = {mail.host!r} needs sender and recipients too")
    if mail.security == "none" and not mail.plain_allowed and not is_this_machine(mail.host):
        raise SettingsError(
            f"{where} security = 'none' would send mail to {mail.host} in the clear; use starttls or tls, "
            "or set plain_allowed = true"
        )


def _check_webhook(webhook: WebhookSettings, where: str) -> None:
    _named_once(
        where,
        url=(webhook.url, webhook.url_env, webhook.url_file),
        token=(webhook.token_env, webhook.token_file),
        signing_key=(webhook.signing_key_env, webhook.signing_key_file),
    )
    if webhook.url is not None:
        fault = fault_of_url(webhook.url, webhook.plain_allowed)
        if fault:
            raise SettingsError(f"{where} url: {fault}")


def fault_of_url(url: str, plain_allowed: bool) -> str:
    """Why nothing is posted to this address; not repeated, since it may hold a secret. Empty where all is well."""
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname, parts.port
    except ValueError:
        return "is no address; expected one such as https://hooks.workshop.example/oil"
    if parts.scheme not in ("http", "https") or not host or not url.isascii() or not url.isprintable():
        return "is no address; expected one such as https://hooks.workshop.example/oil"
    if parts.username is not None or parts.password is not None:
        return "holds a user or password; use token_env or token_file instead"
    if parts.scheme == "http" and not plain_allowed and not is_this_machine(host):
        return f"would post to {host} in the clear; use https, or set plain_allowed = true"
    return ""


def _named_once(where: str, **sources: tuple[str | None, ...]) -> None:
    """Refuse settings that name one secret in two places."""
    for name, named in sources.items():
        if sum(source is not None for source in named) > 1:
            raise SettingsError(f"{where} names {name} in two places; keep one")
