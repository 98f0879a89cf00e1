"""The comparison of springs alone, for one log: read, clean, validate, describe, fit, judge springs."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.describing.fleet_state import units_in_service
from draincurve.pipeline.describing.rated_drains import describe
from draincurve.pipeline.describing.spring_in_oil import with_shocks_marked
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.random_streams import stream
from draincurve.pipeline.judging.springs.comparison import SpringComparison, compare_springs
from draincurve.pipeline.processing import fleet_processing
from draincurve.pipeline.reading.validating.checked_log import CheckedLog
from draincurve.pipeline.run_inputs import Progress, RunInputs, Stopwatch, read_and_check, silent
from draincurve.schemas.channels import channel_names, title_of


@dataclass(frozen=True, slots=True)
class SpringsResult:
    """The checked log, the comparison of each fitted channel, and a sentence for each channel without a fit."""

    checked: CheckedLog
    comparisons: tuple[SpringComparison, ...]
    unfitted: tuple[str, ...]


def compare_log_springs(inputs: RunInputs, progress: Progress = silent) -> SpringsResult:
    """From a log to verdicts on its springs, the same as in the main job (but that oils enter by name always).

    Raises SourceError and SettingsError for input that cannot be used as a whole.
    """
    watch = Stopwatch(progress)
    settings, checked = read_and_check(inputs, watch)
    logged, units = checked.accepted["drains"], checked.accepted.get("units")
    processing = inputs.processing or fleet_processing(units=units_in_service(logged, units), drains=logged.height)
    logged = with_shocks_marked(logged, units)
    fits: list[ChannelFit] = []
    unfitted: list[str] = []
    for channel in channel_names():
        with watch.stage(f"fitting {channel}"):
            drains = describe(logged, channel, compact=processing.compact_design)
            fit = fit_channel(drains, settings, stream(settings.seed, f"fit {channel}"))
        if isinstance(fit, str):
            unfitted.append(f"{title_of(channel)}: {fit}.")
        else:
            fits.append(fit)
    with watch.stage("comparing springs"):
        comparisons = compare_springs(fits, settings, stream(settings.seed, "springs"))
    return SpringsResult(checked, comparisons, tuple(unfitted))
