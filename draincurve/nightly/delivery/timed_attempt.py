"""One attempt at a delivery with a deadline over the whole of it, however slowly a server answers.

A time-out of a socket bounds one read, and a server that sends a byte now and then never exceeds it. So an attempt
runs in a thread of its own. When its time is over its connection is shut; a thread that hangs even so is abandoned.
"""

from __future__ import annotations

import queue
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

_GRACE_S = 1.0
"""Wait for the thread after its connection was shut [s]."""

Result = TypeVar("Result")


class Connection(Protocol):
    """A connection of any library, with its file descriptor."""

    def fileno(self) -> int:
        """The file descriptor."""

    def close(self) -> None:
        """End it."""


class OverdueError(OSError):
    """The time of an attempt was over before the server had answered."""


@dataclass(slots=True)
class TimedAttempt:
    """An attempt, shared by its own thread and the one that waits for it.

    seconds : time for the whole of it; overdue : whether that passed before it ended; handed_over : whether the last
    line of the message was allowed to go, so that the server may have accepted it
    """

    seconds: float
    overdue: bool = False
    handed_over: bool = False
    _end: float = field(init=False)
    _closed: bool = False
    _held: list[socket.socket] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _messages: queue.SimpleQueue[tuple[str, Any]] = field(default_factory=queue.SimpleQueue)
    _allowed: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self._end = time.monotonic() + self.seconds

    @property
    def left_s(self) -> float:
        """Time left [s]; never 0, which a socket would take for another kind of connection."""
        return max(self._end - time.monotonic(), 0.01)

    def connect(self, host: str, port: int) -> socket.socket:
        """A connection that is shut when the time is over. Raises OSError."""
        connection = socket.create_connection((host, port), self.left_s)
        self.hold(connection)
        return connection

    def hold(self, connection: Connection) -> None:
        """Have a connection shut when the time is over. Raises OverdueError where it is over already."""
        with self._lock:
            if self._closed:
                connection.close()
                raise OverdueError
            # A second handle on the same connection: TLS takes the first one over.
            self._held.append(socket.socket(fileno=socket.dup(connection.fileno())))

    def hand_over(self) -> None:
        """Wait until the other thread has recorded that the last line goes out. Raises OverdueError."""
        self._messages.put(("hand over", None))
        self._allowed.wait(self.left_s)
        with self._lock:
            if self._closed or not self._allowed.is_set():
                raise OverdueError
            self.handed_over = True

    def run(self, action: Callable[[TimedAttempt], Result], *, record: Callable[[], None] = lambda: None) -> Result:
        """What the action returns.

        record : called before the last line of a message goes out, in this thread. Raises what the action or
        `record` raises, and OverdueError where the action does not end even when its connection is shut.
        """
        threading.Thread(target=self._act, args=(action,), daemon=True).start()
        try:
            while True:
                kind, value = self._next()
                if kind == "done":
                    return value  # type: ignore[no-any-return]
                if kind == "failed":
                    raise value
                if not self.overdue:
                    record()
                    self._allowed.set()
        finally:
            self._shut()

    def _next(self) -> tuple[str, Any]:
        """The next message of the attempt's thread."""
        if not self.overdue:
            with suppress(queue.Empty):
                return self._messages.get(timeout=self.left_s)
            self.overdue = True
            self._shut()
        try:
            return self._messages.get(timeout=_GRACE_S)
        except queue.Empty:
            raise OverdueError from None

    def _act(self, action: Callable[[TimedAttempt], Any]) -> None:
        try:
            self._messages.put(("done", action(self)))
        except BaseException as fault:
            self._messages.put(("failed", fault))
        finally:
            with self._lock:
                for connection in self._held:
                    connection.close()
                self._held.clear()

    def _shut(self) -> None:
        """Shut every connection; from here on none is made and nothing is handed over."""
        with self._lock:
            self._closed = True
            for connection in self._held:
                with suppress(OSError):
                    connection.shutdown(socket.SHUT_RDWR)
