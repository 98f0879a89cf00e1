"""Work that kills its worker once: passes over ratings and tasks, importable by the worker that runs them."""

from __future__ import annotations

import multiprocessing
import os
import signal

from draincurve.pipeline.fitting.likelihood import Likelihood


def die_once(marker: str) -> None:
    """Kill this process where it is a worker and no other has died for the same marker."""
    if multiprocessing.parent_process() is None:
        return
    try:
        os.close(os.open(marker, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return
    os.kill(os.getpid(), signal.SIGKILL)


class MortalLikelihood(Likelihood):
    """A likelihood one of whose partitions kills its worker in the midst of a pass."""

    marker = ""
    fatal_pass = 2
    passes = 0

    def of_units(self, units):
        part = super().of_units(units)
        part.__class__ = MortalLikelihood
        part.marker, part.fatal_pass = self.marker, self.fatal_pass
        return part

    def expansion(self, natural):
        self.passes += 1
        found = super().expansion(natural)
        if self.passes == self.fatal_pass:
            die_once(self.marker)
        return found


def mortal_square(task):
    """The square of a number; the third task kills its worker."""
    number, marker = task
    if number == 3:
        die_once(marker)
    return number**2


def refused(task):
    """A task that fails on every worker."""
    raise task


def process_id(_):
    """The process that works the task off."""
    return os.getpid()
