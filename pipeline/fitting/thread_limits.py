"""On how many threads sums run: in a small log, handing a sum to several takes longer than the sum."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from types import FunctionType
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar, cast

from numba import get_num_threads, njit, set_num_threads
from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from draincurve.pipeline.describing import Described

_Arguments = ParamSpec("_Arguments")
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


def compiled_loop(function: Callable[_Arguments, _Result]) -> Callable[_Arguments, _Result]:
    """The function compiled, its `prange` loops on as many threads as `one_thread` leaves, with the same bits.

    It is compiled by itself for one thread: with threads, compiling takes several times as long, and a small fleet
    never needs them.
    """
    together, typed = njit(cache=True, parallel=True)(function), cast(FunctionType, function)
    copied = FunctionType(typed.__code__, typed.__globals__)
    # Compiled code is kept on disk by the function's name: under one name, each form would load the other's code.
    copied.__qualname__ += "_on_one_thread"
    alone = njit(cache=True)(copied)

    @wraps(function)
    def compiled(*args: _Arguments.args, **_: _Arguments.kwargs) -> _Result:
        chosen: Callable[..., _Result] = alone if get_num_threads() == 1 else together
        return chosen(*args)

    return compiled


def one_thread_if_small(
    step: Callable[Concatenate[Described, _Others], _Result],
) -> Callable[Concatenate[Described, _Others], _Result]:
    """A step of the plan, on one thread where the fleet is processed so."""

    @wraps(step)
    def limited(described: Described, /, *args: _Others.args, **kwargs: _Others.kwargs) -> _Result:
        with one_thread(when=described.processing.one_thread):
            return step(described, *args, **kwargs)

    return limited
