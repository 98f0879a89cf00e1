"""A night that is stopped: by a signal, or because its time is over before the report is whole."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Final

from draincurve.exit_status import FAILED

_SIGNALS: Final = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
_GRACE_S = 60.0
"""After its time was over a night that is inside compiled code gets so much more to come out of it [s]."""


class NightStoppedError(BaseException):
    """The night has to end here. No Exception, so that nothing on the way takes it for a fault of a row or a file.

    overdue : whether its time was over; else it was a signal
    """

    def __init__(self, message: str, *, overdue: bool) -> None:
        super().__init__(message)
        self.overdue = overdue


@contextmanager
def stoppable(deadline_s: float) -> Iterator[Callable[[], None]]:
    """Raise NightStoppedError in the block at SIGTERM, SIGINT and SIGHUP, and when its time is over.

    Yields a function that lifts the deadline, for parts that keep to it by themselves. A second signal ends the
    process at once. Outside the main thread, which alone receives signals, nothing is changed.
    """
    if threading.current_thread() is not threading.main_thread():
        yield lambda: None
        return
    message = f"the night's time is over ({deadline_s:g} s, night_deadline_s) and no new report is whole"
    watch = threading.Timer(deadline_s + _GRACE_S, _end_at_once, (f"draincurve: {message}\n",))
    watch.daemon = True
    heeded = [number for number in _SIGNALS if signal.getsignal(number) is not signal.SIG_IGN]

    def stop(number: int, _: FrameType | None) -> None:
        for handled in heeded:
            signal.signal(handled, signal.SIG_DFL)
        overdue = number == signal.SIGALRM
        raise NightStoppedError(message if overdue else f"stopped by {signal.Signals(number).name}", overdue=overdue)

    def lift() -> None:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        watch.cancel()

    before = {number: signal.signal(number, stop) for number in (*heeded, signal.SIGALRM)}
    watch.start()
    signal.setitimer(signal.ITIMER_REAL, deadline_s)
    try:
        yield lift
    finally:
        lift()
        for number, handler in before.items():
            signal.signal(number, handler)


def _end_at_once(line: str) -> None:
    """End the process; the kernel frees the lock, and the next night closes the ledger's row."""
    os.write(2, line.encode())
    os._exit(FAILED)
