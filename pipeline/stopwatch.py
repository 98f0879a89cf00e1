"""Seconds that each stage of a run takes, and a call when a stage begins."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from draincurve.pipeline.memory_release import release_free_memory

Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Progress that nobody watches."""


@dataclass(frozen=True, slots=True)
class Stopwatch:
    """Seconds of each stage; calls `progress` when a stage begins, and has free memory released when it ends."""

    progress: Progress = silent
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage."""
        self.progress(name)
        begin = time.perf_counter()
        yield
        release_free_memory()
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - begin
