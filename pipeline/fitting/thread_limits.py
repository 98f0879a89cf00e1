"""Sums on one thread: in a small log, handing a sum to several threads takes longer than the sum."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

from numba import get_num_threads, set_num_threads
from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from draincurve.pipeline.describing import Described

_Others = ParamSpec("_Others")
_Result = TypeVar("_Result")


@contextmanager
def one_thread(*, when: bool = True) -> Iterator[None]:
    """One thread in the `with` block, for compiled sums and for linear algebra, then as many as before.

    when : False leaves the number of threads as it is

    Compiled sums have the same bits with any number of threads. Threads that wait for each other keep their
    processors busy: on a loaded machine, for longer than a whole plan takes.
    """
    threads = get_num_threads()
    set_num_threads(1 if when else threads)
    try:
        with _libraries().limit(limits=1 if when else None, user_api="blas"):
            yield
    finally:
        set_num_threads(threads)


@cache
def _libraries() -> ThreadpoolController:
    """The libraries of linear algebra in this process, which takes milliseconds to find out."""
    return ThreadpoolController()


def one_thread_if_small(
    step: Callable[Concatenate[Described, _Others], _Result],
) -> Callable[Concatenate[Described, _Others], _Result]:
    """A step of the plan, on one thread where the fleet is processed so."""

    @wraps(step)
    def limited(described: Described, /, *args: _Others.args, **kwargs: _Others.kwargs) -> _Result:
        with one_thread(when=described.processing.one_thread):
            return step(described, *args, **kwargs)

    return limited
