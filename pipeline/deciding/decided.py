"""The fifth step: every unit's interval and date, what is worn, what to drain next, and what the next weeks need."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import reduce

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.asked_intervals import (
    ShorterInterval,
    intervals_shorter_by_questions,
    shorter_interval_sentences,
)
from draincurve.pipeline.deciding.candidate_drains import units_to_sample
from draincurve.pipeline.deciding.fleet_intervals import fleet_interval_table
from draincurve.pipeline.deciding.forecast import ForecastResult, forecast
from draincurve.pipeline.deciding.forecast_fleet import ForecastTables
from draincurve.pipeline.deciding.names_as_one import curves_with_names_as_one, decide_names_as_one
from draincurve.pipeline.deciding.next_samples import NextSample, next_samples
from draincurve.pipeline.deciding.next_service import (
    UnitClocks,
    next_service_table,
    unit_clocks,
    with_more_rides,
    with_plausible_hours,
)
from draincurve.pipeline.deciding.oil_curves import oil_curves
from draincurve.pipeline.deciding.part_dates import PartTables, part_dates
from draincurve.pipeline.deciding.unit_blocks import curves_of_rows
from draincurve.pipeline.deciding.unit_curves import UnitCurve, chosen_unit_curves, chosen_units
from draincurve.pipeline.deciding.unit_scoring import decide_interpretation, score_units, shorter_units
from draincurve.pipeline.deciding.visits import SERVICE_VISIT
from draincurve.pipeline.deciding.wear import WearInputs, decide_wear, wear_warnings, with_wear, with_worn_units
from draincurve.pipeline.deciding.wear_result import WearResult
from draincurve.pipeline.describing import (
    Described,
    as_texts,
    drains_until,
    interpreted_state,
    kinds_without_units,
    lives_of_parts,
    names_question,
    renamed,
)
from draincurve.pipeline.fitting import HERE, Engine, Fitted, one_thread_if_small
from draincurve.pipeline.judging import Judged
from draincurve.pipeline.judging.changepoints import turned_column
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.reading import Log
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Decided:
    """The decisions; `next_service` and `fleet_intervals` follow the schemas of their names.

    unit_reasons : columns unit_id, site, machine, position, why (one plain sentence on what set interval and date),
    cost_interval_h [h], cost_why (why no interval is cheapest, or empty), close_channels (those that give about the
    same part of the risk, or empty)
    inspect_now : columns unit_id, site, drained_on, signs (text, e.g. "milky, leak")
    wear : None where nothing was measured; shortened : units whose interval is shorter until what is asked about is
    known; parts : as schemas.parts_table has it, None without a table of parts
    """

    next_service: pl.DataFrame
    unit_reasons: pl.DataFrame
    fleet_intervals: pl.DataFrame
    inspect_now: pl.DataFrame
    unit_curves: tuple[UnitCurve, ...]
    next_samples: tuple[NextSample, ...]
    wear: WearResult | None
    shortened: tuple[ShorterInterval, ...] = ()
    parts: pl.DataFrame | None = None
    part_warnings: tuple[str, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to read before trusting the intervals, and that wear is watched, in sentences."""
        return (*self.by_questions, *wear_warnings(self.wear), *self.part_warnings)

    @property
    def by_questions(self) -> tuple[str, ...]:
        """Sentences on units whose interval is shorter because of what is asked about; none without a unit."""
        return shorter_interval_sentences(self.shortened)


@one_thread_if_small
def decide(
    described: Described,
    fitted: Fitted,
    *,
    log: Log,
    judged: Judged,
    settings: Settings,
    as_of: date,
    engine: Engine = HERE,
    watch: Stopwatch | None = None,
) -> Decided:
    """Intervals, dates and reasons of every unit in service as of a day, and of new units.

    engine : scores a large fleet's blocks of units. Raises ContractError where a result breaks its schema.
    """
    watch = watch or Stopwatch()
    drains = described.drains
    with_drift = () if fitted.with_drift is None else (fitted.with_drift,)
    alternatives = (*fitted.interpretations, *with_drift)
    alternative_names = (*described.names_by_interpretation, *({} for _ in with_drift))
    wear = _wear(described, fitted, log, settings, as_of, watch)
    state = with_wear(described.state, wear)
    with watch.stage("deciding"):
        clocks = unit_clocks(state, drains, described.usage, described.bookings, settings, as_of)
        if described.rides_of_similar_units is not None:
            usage, bookings = described.rides_of_similar_units
            clocks = with_more_rides(clocks, unit_clocks(state, drains, usage, bookings, settings, as_of), bookings)
        inputs = (clocks.caps, clocks.on_oil, settings, engine)
        block_units = described.processing.block_units
        scored = score_units(fitted.oil, state, *inputs, block_units=block_units)
        states = [interpreted_state(state, names) for names in alternative_names]
        by_alternative = [
            decide_interpretation(oil, interpreted, *inputs, block_units=block_units)
            for oil, interpreted in zip(alternatives, states, strict=True)
        ]
        decisions = [units for units, _ in by_alternative]
        by_answer = list(zip(decisions, described.questions_by_interpretation, strict=False))
        decided = reduce(shorter_units, [scored.decided, *decisions])
        if described.names_as_one and fitted.fits:
            decided = decide_names_as_one(
                decided,
                fitted.oil,
                state,
                clocks.caps,
                clocks.on_oil,
                settings,
                names=described.names_as_one,
                block_units=block_units or state.height,
            )
            by_answer.append((decided, (names_question(described.names_as_one),)))
        standings = _with_turned(scored.standings, judged)
        next_service, reasons = next_service_table(
            state, clocks, decided, standings, described.bookings, settings, as_of
        )
        combinations = described.combinations
        new_units, *other_curves = (
            oil_curves(oil, renamed(combinations, names), settings, stream(settings.seed, "new units"))
            for oil, names in zip((fitted.oil, *alternatives), ({}, *alternative_names), strict=True)
        )
        intervals = fleet_interval_table(combinations, new_units, drains, settings, state, other_curves=other_curves)
        shown, to_sample = chosen_units(state, next_service), units_to_sample(state)
        # One call, since a large fleet's blocks are drawn again for them.
        rows = np.union1d(shown, to_sample)
        drawn = curves_of_rows(fitted.oil, scored.curves, state, rows, settings, engine, block_units=block_units)
        readings = [
            drawn.rows(np.searchsorted(rows, shown)),
            *(
                curves_of_rows(oil, curves, interpreted, shown, settings, engine, block_units=block_units)
                for oil, (_, curves), interpreted in zip(alternatives, by_alternative, states, strict=True)
            ),
        ]
        if described.names_as_one and fitted.fits:
            readings.append(
                curves_with_names_as_one(
                    readings[0],
                    fitted.oil,
                    state,
                    shown,
                    settings,
                    names=described.names_as_one,
                    block_units=block_units or state.height,
                )
            )
        shown_curves = chosen_unit_curves(readings, state[shown], next_service, _longest_hours(drains), settings)
        curves = drawn.rows(np.searchsorted(rows, to_sample))
        samples = (
            next_samples(fitted.fits, curves, state[to_sample], next_service, settings, state) if state.height else ()
        )
        parts, part_warnings = _parts(described, log, next_service, clocks, wear, settings, as_of)
    return Decided(
        next_service=with_plausible_hours(next_service, reasons),
        unit_reasons=reasons,
        fleet_intervals=intervals,
        inspect_now=with_worn_units(described.signs, wear),
        unit_curves=shown_curves,
        next_samples=samples,
        wear=wear,
        parts=parts,
        part_warnings=part_warnings,
        shortened=intervals_shorter_by_questions(
            state["unit_id"].cast(pl.String).to_list(), scored.decided, by_answer
        ),
    )


@one_thread_if_small
def look_ahead(
    described: Described, decided: Decided, *, settings: Settings, as_of: date, watch: Stopwatch | None = None
) -> ForecastResult:
    """Services, rebuilds and oil of the next weeks, by what was decided for each unit."""
    watch = watch or Stopwatch()
    with watch.stage("forecasting"):
        state = with_wear(described.state, decided.wear)
        tables = ForecastTables(described.drains, described.units, described.usage, described.bookings)
        rng = stream(settings.seed, "forecast")
        return forecast(state, decided.next_service, tables, settings, as_of, rng, parts=decided.parts)


def _wear(
    described: Described, fitted: Fitted, log: Log, settings: Settings, as_of: date, watch: Stopwatch
) -> WearResult | None:
    if "measurements" not in log.accepted:
        return None
    with watch.stage("deciding on wear"):
        inputs = WearInputs.among(log.accepted | {"drains": as_texts(described.drains)})
        return decide_wear(inputs, described.state, settings, as_of, fitted=fitted.wear)


def _parts(
    described: Described,
    log: Log,
    next_service: pl.DataFrame,
    clocks: UnitClocks,
    wear: WearResult | None,
    settings: Settings,
    as_of: date,
) -> tuple[pl.DataFrame | None, tuple[str, ...]]:
    """The table of parts, and warnings about it; None where no table of parts was given."""
    if "parts" not in log.accepted:
        return None, ()
    units, drains = log.accepted.get("units"), drains_until(as_texts(described.drains), as_of)
    lives = lives_of_parts(log.accepted["parts"], described.state, units)
    tables = PartTables(lives, described.state, clocks, drains, described.usage, described.bookings, wear)
    unmatched = kinds_without_units(log.accepted["parts"], units)
    warnings = [f"The table of parts has rows for the kind {kind}, which no unit of the register is of: they limit "
                "nothing." for kind in unmatched]  # fmt: skip
    parts = part_dates(tables, next_service, settings, as_of)
    alone = parts.filter(
        (pl.col("due_on") <= as_of) & ~pl.col("visit_with").fill_null("").str.contains(SERVICE_VISIT)
    )
    if alone.height:
        named = ", ".join(alone["unit_id"].unique(maintain_order=True).head(5))
        warnings.append(
            f"{alone.height} parts are due now in units whose own service is not, as in {named}: see parts.csv."
        )
    return parts, tuple(warnings)


def _longest_hours(drains: pl.DataFrame) -> float:
    """The longest fill of the log [h]; one where no fill is known, and no curve then."""
    longest = drains["oil_hours"].max()
    return float(longest) if isinstance(longest, (int, float)) else 1.0


def _with_turned(standings: pl.DataFrame, judged: Judged) -> pl.DataFrame:
    """Units against the fleet, and against their own past."""
    turned = turned_column(judged.changepoints, standings["unit_key"].to_list())
    return standings.join(turned, on="unit_key", how="left", maintain_order="left")
