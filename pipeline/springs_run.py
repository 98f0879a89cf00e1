"""The comparison of springs alone, for one log: read, clean, validate, describe, fit, judge springs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pipeline.describing.rated_drains import CHANNELS, describe
from pipeline.fitting.channel_fit import ChannelFit, fit_channel
from pipeline.judging.springs.comparison import compare_springs
from pipeline.judging.springs.spring_stream import spring_stream
from pipeline.run import PlanInputs, read_inputs, silent
from pipeline.spring_results import SpringComparison
from pipeline.validation import CheckedLog, check_log
from schemas.settings import read_settings


@dataclass(frozen=True, slots=True)
class SpringsResult:
    """The checked log, the comparison of each fitted channel, and a sentence for each channel without a fit."""

    checked: CheckedLog
    comparisons: tuple[SpringComparison, ...]
    unfitted: tuple[str, ...]


def compare_log_springs(inputs: PlanInputs, progress: Callable[[str], None] = silent) -> SpringsResult:
    """From a log to verdicts on its springs, the same as in the main job.

    Raises SourceError and SettingsError for input that cannot be used as a whole.
    """
    settings = read_settings(inputs.settings)
    progress("reading")
    tables = read_inputs(inputs)
    progress("checking")
    checked = check_log(tables, settings, inputs.as_of)
    # The main job draws a stream to fit each channel and, where it has a fit, one to judge it.
    streams = iter(np.random.default_rng(settings.seed).spawn(2 * len(CHANNELS)))
    fits: list[ChannelFit] = []
    unfitted: list[str] = []
    for channel in CHANNELS:
        progress(f"fitting {channel}")
        fit = fit_channel(describe(checked.accepted["drains"], channel), settings, next(streams))
        if isinstance(fit, str):
            unfitted.append(f"{channel.capitalize()}: {fit}.")
        else:
            fits.append(fit)
            next(streams)
    progress("comparing springs")
    return SpringsResult(checked, compare_springs(fits, settings, spring_stream(settings)), tuple(unfitted))
