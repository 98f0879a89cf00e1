"""Retries of a delivery after transient errors, with waits that double."""

from __future__ import annotations

from collections.abc import Callable

from draincurve.nightly.delivery.night_report import Sleep

LONGEST_WAIT_S = 900.0


class TransientError(Exception):
    """A delivery that failed, but may succeed later. The message holds no secret."""


class PermanentError(Exception):
    """A delivery that will fail every time until a person acts. The message holds no secret."""


def tried(attempt: Callable[[], str], tries: int, *, first_wait_s: float, sleep: Sleep) -> tuple[bool, int, str]:
    """(whether it was delivered, after how many tries, what was done or why not).

    attempt : delivers once and returns what it did, or raises TransientError or PermanentError
    first_wait_s : wait after the first try [s]; each further wait is twice as long, up to a quarter of an hour
    """
    said = ""
    for number in range(1, tries + 1):
        try:
            return True, number, attempt()
        except PermanentError as fault:
            return False, number, str(fault)
        except TransientError as fault:
            said = str(fault)
        if number < tries:
            sleep(min(first_wait_s * 2.0 ** (number - 1), LONGEST_WAIT_S))
    return False, tries, f"{said}; tried {tries} {'time' if tries == 1 else 'times'}"
