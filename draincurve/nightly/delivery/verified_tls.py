"""TLS connections with the server's certificate verified."""

from __future__ import annotations

import ssl

from draincurve.nightly.delivery.night_report import DeliveryContext
from draincurve.nightly.delivery.retrying import PermanentError


def verified_context(context: DeliveryContext, ca_file: str | None) -> ssl.SSLContext:
    """TLS 1.2 or newer, with certificate and host name verified, against `ca_file` where one is given.

    Raises PermanentError where that file cannot be used.
    """
    path = None if ca_file is None else context.within(ca_file)
    try:
        tls = ssl.create_default_context(cafile=path)
    except ssl.SSLError as fault:
        raise PermanentError(f"ca_file {path}: holds no certificate that can be read") from fault
    except OSError as fault:
        raise PermanentError(f"ca_file {path}: cannot be read ({fault.strerror})") from fault
    tls.minimum_version = ssl.TLSVersion.TLSv1_2
    return tls
