"""Retries of a delivery after transient errors, with waits that double, until the night's time is over."""

from __future__ import annotations

from collections.abc import Callable

from draincurve.nightly.delivery.night_report import DeliveryContext

LONGEST_WAIT_S = 900.0


class TransientError(Exception):
    """A delivery that failed, but may succeed later. The message holds no secret."""


class PermanentError(Exception):
    """A delivery that will fail every time until a person acts. The message holds no secret."""


def with_retries(
    attempt: Callable[[float], str], tries: int, *, timeout_s: float, first_wait_s: float, context: DeliveryContext
) -> tuple[bool, int, str]:
    """Make attempts until one delivers: (whether it did, number of attempts, what was done or why not).

    attempt : delivers once within some seconds and returns what it did, or raises TransientError or PermanentError
    timeout_s : for the whole of one attempt [s], as far as the night has so much time left
    first_wait_s : wait after the first attempt [s]; each further wait is twice as long, up to a quarter of an hour
    """
    reason = "not tried"
    for number in range(1, tries + 1):
        if context.left_s <= 0.0:
            return False, number - 1, f"{reason}; the night's time is over, and the next night sends it"
        try:
            return True, number, attempt(min(timeout_s, context.left_s))
        except PermanentError as fault:
            return False, number, str(fault)
        except TransientError as fault:
            reason = str(fault)
        wait_s = min(first_wait_s * 2.0 ** (number - 1), LONGEST_WAIT_S)
        if number < tries and wait_s < context.left_s:
            context.sleep(wait_s)
        elif number < tries:
            return False, number, f"{reason}; the night's time is over, and the next night sends it"
    return False, tries, f"{reason}; tried {tries} {'time' if tries == 1 else 'times'}"
