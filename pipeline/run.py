"""The whole line for one log: read, clean, validate, describe, fit, judge, decide."""

from __future__ import annotations

import sys
from importlib.metadata import version

import polars as pl

from draincurve.pipeline.deciding.channel_curves import channel_curves
from draincurve.pipeline.deciding.fleet_intervals import fleet_interval_table
from draincurve.pipeline.deciding.forecast import forecast
from draincurve.pipeline.deciding.forecast_fleet import ForecastTables
from draincurve.pipeline.deciding.next_samples import next_samples
from draincurve.pipeline.deciding.next_service import next_service_table, unit_clocks
from draincurve.pipeline.deciding.sample_candidates import asked_about
from draincurve.pipeline.deciding.unit_blocks import curves_of_some, score_units
from draincurve.pipeline.deciding.unit_curves import chosen_units, unit_curves
from draincurve.pipeline.deciding.wear import WearInputs, decide_wear, wear_warnings, with_wear, with_worn_units
from draincurve.pipeline.describing.categorical_names import as_texts, with_categorical_names
from draincurve.pipeline.describing.fill_conditions import state_conditions
from draincurve.pipeline.describing.fleet_sample import sample_note, sampled_state
from draincurve.pipeline.describing.fleet_state import fleet_state, inspect_now, units_in_service
from draincurve.pipeline.describing.held_back_facts import held_back_signs, with_held_back_days, with_held_back_limits
from draincurve.pipeline.describing.leg_pairs import leg_pairs, partners
from draincurve.pipeline.describing.new_units import new_unit_rows
from draincurve.pipeline.describing.oil_catalogue import fleet_catalogue
from draincurve.pipeline.describing.oil_viscosity import with_viscosity
from draincurve.pipeline.describing.rated_drains import describe_channels
from draincurve.pipeline.describing.spring_in_oil import with_shocks_marked
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.engine.engine_address import EngineFor, engine_at
from draincurve.pipeline.fitting.oil_term import oil_term
from draincurve.pipeline.fitting.random_streams import stream
from draincurve.pipeline.judging.backtest.backtest import backtest
from draincurve.pipeline.judging.channel_trust import ChannelTrust, channel_trust
from draincurve.pipeline.judging.evidence import channel_result, unfitted_result
from draincurve.pipeline.judging.legs.comparison import LegResult, compare_legs
from draincurve.pipeline.judging.legs.swaps import possible_swaps
from draincurve.pipeline.judging.sample_fits import sample_fits
from draincurve.pipeline.judging.springs.comparison import compare_springs
from draincurve.pipeline.judging.springs.effects_table import spring_effects_table
from draincurve.pipeline.judging.turned import turned_column
from draincurve.pipeline.judging.viscosity_effect import viscosity_sentences
from draincurve.pipeline.judging.volume.balance import volume_balance
from draincurve.pipeline.judging.warnings import fit_warnings
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import fleet_processing
from draincurve.pipeline.reading.validating.checked_log import CheckedLog
from draincurve.pipeline.run_inputs import Progress, RunInputs, Stopwatch, read_and_check, silent
from draincurve.schemas.channels import channel_names
from draincurve.schemas.settings import Settings

LIBRARIES = ("draincurve", "numpy", "scipy", "numba", "polars", "pandera", "pint", "scikit-learn", "matplotlib")

PLAN_ORIGINS = 3
"""Past dates at which the main job tries its own earlier predictions; the backtest command tries more."""


def check(inputs: RunInputs) -> CheckedLog:
    """Read and validate only. Raises SourceError and SettingsError."""
    return read_and_check(inputs, Stopwatch(silent))[1]


def plan(inputs: RunInputs, progress: Progress = silent) -> PlanResult:
    """The main job: from a log to each unit's next-service point.

    Raises SourceError and SettingsError for input that cannot be used as a whole, and EngineError for an engine that
    cannot be used; a bad row never stops a run.
    """
    with engine_at(inputs.engine) as engine_for:
        return _plan(inputs, Stopwatch(progress), engine_for)


def _plan(inputs: RunInputs, watch: Stopwatch, engine_for: EngineFor) -> PlanResult:
    """The same with the engine at hand for a fleet of any size."""
    settings, checked = read_and_check(inputs, watch)
    drains, seed = checked.accepted.pop("drains"), settings.seed
    units = with_held_back_limits(checked.accepted.get("units"), checked.legible.get("units"))
    processing = inputs.processing or fleet_processing(units=units_in_service(drains, units), drains=drains.height)
    if processing.categorical_names:
        drains = with_categorical_names(drains)
    with watch.stage("describing"):
        signs = held_back_signs(checked.legible.get("drains"), drains)
        usual_hours = _usual_hours(drains)
        state = _conditions(fleet_state(drains, units, inputs.as_of, signs), settings, usual_hours)
        oils = checked.accepted.get("oils")
        by_oil = oil_term(drains, state, oils, settings, compact=processing.compact_design)
        state = with_viscosity(state, by_oil.oils)
        asked = with_shocks_marked(with_viscosity(drains, by_oil.oils), units)
        rated = describe_channels(asked, compact=processing.compact_design)
        few = sampled_state(state, stream(seed, "sample"), units=processing.sample_units)
        pairs, unclear = leg_pairs(few)
        in_use = with_viscosity(new_unit_rows(drains, state), by_oil.oils)
        combinations = _conditions(in_use, settings, usual_hours)
        engine = engine_for(processing, state.height)
    found: dict[str, ChannelFit | str] = {}
    for channel in channel_names():
        with watch.stage(f"fitting {channel}"):
            found[channel] = fit_channel(rated[channel], settings, stream(seed, f"fit {channel}"), engine)
    fits = {channel: fit for channel, fit in found.items() if isinstance(fit, ChannelFit)}
    with watch.stage("fitting a sample"):
        sampled = sample_fits(found, asked, few, settings)
        few_fits = tuple(fit for fit in sampled.values() if isinstance(fit, ChannelFit))
    with watch.stage("judging"):
        channels = tuple(
            unfitted_result(rated[channel], settings, fit)
            if isinstance(fit, str)
            else channel_result(fit, combinations, settings, stream(seed, f"evidence {channel}"))
            for channel, fit in found.items()
        )
    with watch.stage("watching units and raters"):
        trust = tuple(
            channel_trust(
                rated[channel],
                fit,
                sampled[channel],
                checked.second_ratings,
                combinations,
                settings,
                stream(seed, f"watch {channel}"),
                watched_units=processing.watched_units,
            )
            for channel, fit in found.items()
        )
    in_model = (by_oil.words, *viscosity_sentences(fits.values()))
    catalogue = None if oils is None else fleet_catalogue(oils, drains, in_model)
    with watch.stage("comparing legs"):
        legs = LegResult(
            partners(pairs),
            compare_legs(few_fits, pairs, settings.standing),
            possible_swaps(few_fits, pairs, drains),
            unclear,
        )
    with watch.stage("balancing volumes"):
        volume = volume_balance(
            drains, carry_over_units=processing.carry_over_units, described_units=processing.balance_units
        )
    with watch.stage("comparing springs"):
        springs = compare_springs(few_fits, settings, stream(seed, "springs"))
    with watch.stage("trying earlier predictions"):
        held = backtest(asked, settings, stream(seed, "backtest"), PLAN_ORIGINS, False, silent)
    wear = None
    if "measurements" in checked.accepted:
        with watch.stage("measured channels"):
            read = WearInputs.among(checked.accepted | {"drains": as_texts(drains)})
            wear = decide_wear(read, state, settings, inputs.as_of)
            state = with_wear(state, wear)
    usage, bookings = (
        with_held_back_days(checked.accepted.get(name), checked.legible.get(name)) for name in ("usage", "bookings")
    )
    with watch.stage("deciding"):
        clocks = unit_clocks(state, drains, usage, bookings, settings, inputs.as_of)
        scored = score_units(
            fits, state, clocks.caps, clocks.on_oil, settings, engine, block_units=processing.block_units
        )
        standings = _with_turned(scored.standings, trust)
        next_service, reasons = next_service_table(
            state, clocks, scored.decided, standings, bookings, settings, inputs.as_of
        )
        new_units = channel_curves(fits, combinations, settings, stream(seed, "new units"))
        intervals = fleet_interval_table(combinations, new_units, drains, settings, state)
        shown, wanted = chosen_units(state, next_service), asked_about(state)
        some = curves_of_some(fits, scored.curves, state, shown, settings)
        drawn = unit_curves(some, state[shown], next_service, _longest_hours(drains), settings)
        some = curves_of_some(fits, scored.curves, state, wanted, settings)
        samples = next_samples(fits, some, state[wanted], next_service, settings, state) if state.height else ()
    left_out = tuple(item for channel in channel_names() for item in rated[channel].left_out)
    del asked, rated, found, fits  # of a large log the next stages need their memory
    with watch.stage("forecasting"):
        tables = ForecastTables(drains, units, usage, bookings)
        ahead = forecast(state, next_service, tables, settings, inputs.as_of, stream(seed, "forecast"))
    return PlanResult(
        as_of=inputs.as_of,
        log_name=inputs.log.label,
        settings=settings,
        processing=processing,
        accounts=checked.accounts,
        held_back=checked.held_back,
        held_back_file=checked.held_back_file,
        remarks=checked.remarks,
        drains=drains,
        inspect_now=with_worn_units(inspect_now(drains, signs, units), wear),
        channels=channels,
        next_service=next_service,
        fleet_intervals=intervals,
        unit_reasons=reasons,
        trust=trust,
        springs=springs,
        backtest=held,
        legs=legs,
        volume=volume,
        forecast=ahead,
        oils=catalogue,
        next_samples=samples,
        wear=wear,
        unit_curves=drawn,
        spring_effects=spring_effects_table(springs),
        left_out=left_out,
        warnings=(*sample_note(state, few), *engine.notes, *fit_warnings(channels, drains), *wear_warnings(wear)),
        timings=watch.seconds,
        versions={"python": sys.version.split()[0]} | {name: version(name) for name in LIBRARIES},
    )


def _usual_hours(drains: pl.DataFrame) -> float:
    """The fleet's median fill [h]; ten where no fill is known, which matters to nothing then."""
    median = drains["oil_hours"].median()
    return float(median) if isinstance(median, (int, float)) else 10.0


def _longest_hours(drains: pl.DataFrame) -> float:
    """The longest fill of the log [h]; one where no fill is known, and no curve then."""
    longest = drains["oil_hours"].max()
    return float(longest) if isinstance(longest, (int, float)) else 1.0


def _conditions(state: pl.DataFrame, settings: Settings, usual_hours: float) -> pl.DataFrame:
    return state_conditions(state, settings.standard_settle_hours, usual_hours)


def _with_turned(standings: pl.DataFrame, trust: tuple[ChannelTrust, ...]) -> pl.DataFrame:
    """Units against the fleet, and against their own past."""
    watched = {one.channel: one.turned for one in trust if one.turned is not None}
    turned = turned_column(watched, standings["unit_key"].to_list()).select("unit_key", "turned")
    return standings.join(turned, on="unit_key", how="left", maintain_order="left")
