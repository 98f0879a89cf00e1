"""Compiled sums on one thread: in a small log, starting several threads for a sum takes longer than the sum."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from numba import get_num_threads, set_num_threads


@contextmanager
def one_thread(*, when: bool = True) -> Iterator[None]:
    """One thread in the `with` block, then as many as before. Sums have the same bits with any number of threads.

    when : False leaves the number of threads as it is
    """
    threads = get_num_threads()
    set_num_threads(1 if when else threads)
    try:
        yield
    finally:
        set_num_threads(threads)
