"""Trying again what may pass, with waits that double, and leaving alone what will not."""

from __future__ import annotations

from collections.abc import Callable

from draincurve.nightly.delivery.night_report import Sleep

LONGEST_WAIT_S = 900.0


class PassingError(Exception):
    """A delivery that failed for now: trying again later may help. The message holds no secret."""


class LastingError(Exception):
    """A delivery that will fail the same way every time: only a person can help. The message holds no secret."""


def tried(attempt: Callable[[], str], tries: int, first_wait_s: float, sleep: Sleep) -> tuple[bool, int, str]:
    """Whether it was delivered, after how many tries, and what there is to say.

    attempt : delivers once and says what it did, or raises one of the two faults. The waits are first_wait_s,
    twice that, four times that and so on [s], none longer than a quarter of an hour.
    """
    said = ""
    for number in range(1, tries + 1):
        try:
            return True, number, attempt()
        except LastingError as fault:
            return False, number, str(fault)
        except PassingError as fault:
            said = str(fault)
        if number < tries:
            sleep(min(first_wait_s * 2.0 ** (number - 1), LONGEST_WAIT_S))
    return False, tries, f"{said}; tried {tries} {'time' if tries == 1 else 'times'}"
