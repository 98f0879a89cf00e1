"""Encrypted connections whose other end has proved who it is."""

from __future__ import annotations

import ssl

from draincurve.nightly.delivery.night_report import Surroundings
from draincurve.nightly.delivery.retrying import LastingError


def verified_context(surroundings: Surroundings, ca_file: str | None) -> ssl.SSLContext:
    """TLS 1.2 or newer with certificate and host name verified, against `ca_file` where one is named.

    Raises LastingError where that file cannot be used.
    """
    path = None if ca_file is None else surroundings.within(ca_file)
    try:
        context = ssl.create_default_context(cafile=path)
    except ssl.SSLError as fault:
        raise LastingError(f"ca_file {path}: holds no certificate that can be read") from fault
    except OSError as fault:
        raise LastingError(f"ca_file {path}: cannot be read ({fault.strerror})") from fault
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context
