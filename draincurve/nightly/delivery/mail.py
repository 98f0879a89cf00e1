"""The mail of a night: composed once, tried until it is sent or refused."""

from __future__ import annotations

from draincurve.nightly.delivery.message import attached_files, night_message
from draincurve.nightly.delivery.night_report import DeliveryOutcome, NightReport, Surroundings
from draincurve.nightly.delivery.retrying import LastingError, tried
from draincurve.nightly.delivery.secrets import read_secret
from draincurve.nightly.delivery.smtp import Login, Sending
from draincurve.nightly.delivery.verified_tls import verified_context
from draincurve.schemas.delivery_settings import MailSettings


def deliver_mail(mail: MailSettings, night: NightReport, surroundings: Surroundings) -> DeliveryOutcome:
    """Send the mail of a night; a fault is an outcome, never an exception."""
    files = attached_files(night, mail)
    try:
        context = None if mail.security == "none" else verified_context(surroundings, mail.ca_file)
        login = _login(mail, surroundings)
    except LastingError as fault:
        return DeliveryOutcome("mail", False, 0, str(fault), files.left_out)
    sending = Sending(mail, night_message(night, files, mail), context, login, waiting=list(mail.recipients))
    delivered, tries, said = tried(sending.once, mail.tries, mail.first_wait_s, surroundings.sleep)
    return DeliveryOutcome("mail", delivered, tries, said, files.left_out)


def _login(mail: MailSettings, surroundings: Surroundings) -> Login | None:
    user = read_secret(surroundings, mail.user_env, mail.user_file, "user for the mail server")
    password = read_secret(surroundings, mail.password_env, mail.password_file, "password for the mail server")
    return None if user is None or password is None else Login(user, password)
