"""Compiled sums on one thread: where a log is small, handing each sum to several threads costs more than the sum."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from numba import get_num_threads, set_num_threads


@contextmanager
def one_thread(*, when: bool = True) -> Iterator[None]:
    """One thread inside, as many as before after it. Sums are the same to the last bit either way.

    when : False leaves the threads as they are.
    """
    threads = get_num_threads()
    set_num_threads(1 if when else threads)
    try:
        yield
    finally:
        set_num_threads(threads)
