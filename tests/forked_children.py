"""Child processes that do not import everything anew: all of them fork from one server, which has."""

from __future__ import annotations

import multiprocessing

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(["draincurve.nightly.night", "night_child", "entry_child"])
