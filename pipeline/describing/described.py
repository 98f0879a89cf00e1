"""The second step: the state of each unit, and the drains as input of the models."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

import polars as pl

from draincurve.pipeline.describing.asked_values import (
    Interpretation,
    known_drains,
    other_interpretations,
    rows_of_unknown_rating,
    scales_in_question,
    unsure_scales,
    with_asked_ratings,
)
from draincurve.pipeline.describing.categorical_names import as_texts
from draincurve.pipeline.describing.covariates import LeftOut
from draincurve.pipeline.describing.fill_conditions import state_conditions
from draincurve.pipeline.describing.fleet_sample import sample_note, sampled_state
from draincurve.pipeline.describing.fleet_state import fleet_state, new_unit_rows, units_in_service
from draincurve.pipeline.describing.held_back_facts import (
    LIMITS,
    held_back_signs,
    with_held_back_days,
    with_held_back_limits,
)
from draincurve.pipeline.describing.leg_pairs import LegPair, leg_pairs
from draincurve.pipeline.describing.oil_viscosity import OilTerm, with_viscosity
from draincurve.pipeline.describing.part_age import usual_fill
from draincurve.pipeline.describing.rated_drains import RatedDrains, describe_channels
from draincurve.pipeline.describing.second_ratings import second_ratings_in_fit
from draincurve.pipeline.describing.signs import inspect_now
from draincurve.pipeline.describing.similar_names import NewNames, names_question, renamed, similar_names_as_one
from draincurve.pipeline.describing.similar_units import (
    RidesOfSimilarUnits,
    rides_of_similar_units,
    rows_of_similar_units,
)
from draincurve.pipeline.describing.spring_in_oil import with_shocks_marked
from draincurve.pipeline.describing.wear_limits import parsed_limits
from draincurve.pipeline.describing.wear_readings import WearSeries, wear_series
from draincurve.pipeline.processing import FleetProcessing, fleet_processing
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.reading import Log
from draincurve.pipeline.reading.cleaning import spelling_key
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.settings import Settings


class ChooseOilTerm(Protocol):
    """How oils enter the models, by accepted drains, units in service, the oils or None, and the settings."""

    def __call__(
        self,
        drains: pl.DataFrame,
        state: pl.DataFrame,
        *,
        oils: pl.DataFrame | None,
        settings: Settings,
        compact: bool,
    ) -> OilTerm:
        """The better supported of names and viscosities; compact : whether a design is held as indices of levels."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Described:
    """The units and drains of a log, ready for the models.

    processing : how a fleet of this size is processed
    drains : accepted drains, null where something is asked about; units, usage, bookings : the log's tables with
    what their held-back rows still say, or None; rides_of_similar_units : usage and bookings with the rows of
    names that may be a unit's, None where there are none
    state : units in service, as `fleet_state` gives them, with the conditions of the fill that runs now
    sample : rows of `state` that represent a large fleet, all rows of any other; combinations : springs and oils in
    use, with the conditions of a fill; signs : units to inspect, as columns unit_id, site, drained_on, signs
    model_drains : the drains as the models read them, with oil viscosities where oils enter by them, and `on_shock`;
    rated : channel to its rated drains; rated_by_interpretation : for each other interpretation of what is asked
    about, those of the channels that it changes; names_by_interpretation : the names that units have in each;
    questions_by_interpretation : what each answers, in words that follow "until it is known";
    names_as_one : in a fleet that is not fitted for other interpretations, the names that may be one with others;
    measured : measured quantities, one series each;
    unsure_scales : channels of which it is asked of every row which end of the scale is clean
    reference_rater : the rater whose ratings the limits refer to, None for the average of all;
    left_out : covariates that no fit has; oil_description : how oils enter the models
    pairs : left and right legs; unpaired : sentences on machines whose legs cannot be paired; warnings : sentences
    """

    processing: FleetProcessing
    drains: pl.DataFrame
    units: pl.DataFrame | None
    usage: pl.DataFrame | None
    bookings: pl.DataFrame | None
    rides_of_similar_units: RidesOfSimilarUnits | None
    state: pl.DataFrame
    combinations: pl.DataFrame
    signs: pl.DataFrame
    sample: pl.DataFrame
    model_drains: pl.DataFrame
    rated: Mapping[str, RatedDrains]
    rated_by_interpretation: tuple[Mapping[str, RatedDrains], ...]
    names_by_interpretation: tuple[NewNames, ...]
    questions_by_interpretation: tuple[tuple[str, ...], ...]
    names_as_one: NewNames
    measured: tuple[WearSeries, ...]
    unsure_scales: tuple[str, ...]
    reference_rater: str | None
    left_out: tuple[LeftOut, ...]
    oil_description: str
    pairs: tuple[LegPair, ...]
    unpaired: tuple[str, ...]
    warnings: tuple[str, ...]

    def without_model_drains(self) -> Described:
        """The same without the drains of the models, which in a large log take most of the memory."""
        return replace(self, model_drains=self.model_drains.clear(), rated={}, rated_by_interpretation=())


def describe(
    log: Log,
    settings: Settings,
    *,
    processing: FleetProcessing | None = None,
    choose_oil_term: ChooseOilTerm | None = None,
    watch: Stopwatch | None = None,
) -> Described:
    """Units, fills and springs of a log, and the drains that each channel's model is fitted to.

    processing : how the fleet is processed, None for what its size calls for; choose_oil_term : decides how oils
    enter the models, None for by their names.
    """
    watch = watch or Stopwatch()
    processing = processing or processing_of(log)
    compact = processing.compact_design
    with watch.stage("describing"):
        accepted = log.accepted["drains"]
        drains = known_drains(accepted)
        units = _with_limits(log)
        usage, bookings = (
            with_held_back_days(log.accepted.get(name), log.legible.get(name)) for name in ("usage", "bookings")
        )
        signs = pl.concat(
            held_back_signs(rows, drains) for rows in (log.legible.get("drains"), rows_of_unknown_rating(accepted))
        )
        rater = _reference_rater(drains, settings)
        conditions = partial(
            state_conditions,
            settle_hours=settings.standard_settle_hours,
            usual_hours=usual_fill(drains),
            reference_rater=rater,
        )
        state = conditions(fleet_state(drains, units, as_of=log.as_of, signs_only=signs))
        oil_term = OilTerm()
        if choose_oil_term is not None:
            oil_term = choose_oil_term(
                drains, state, oils=log.accepted.get("oils"), settings=settings, compact=compact
            )
        state = with_viscosity(state, oil_term.oils)
        limits = settings.limits.ratings
        in_fit = drains
        if not processing.fit_interpretations:
            in_fit = with_asked_ratings(known_drains(accepted, whose_people=True), limits)
        model_drains = with_shocks_marked(with_viscosity(in_fit, oil_term.oils), units)
        second = second_ratings_in_fit(log, processing)
        rated = _rated(model_drains, second, compact=compact)
        interpreted = processing.fit_interpretations or scales_in_question(accepted)
        interpretations = other_interpretations(accepted, limits, log.people_in_one_cell) if interpreted else ()
        names_by_interpretation: tuple[NewNames, ...] = tuple(dict(item.names) for item in interpretations)
        as_one = similar_names_as_one(drains, log.similar_names)
        if as_one and processing.fit_interpretations:
            all_channels = tuple(channel.name for channel in CHANNELS)
            frames = [(drains, ()), *((item.drains, item.questions) for item in interpretations if not item.names)]
            merged = [
                Interpretation(renamed(frame, as_one), all_channels, (*questions, names_question(as_one)))
                for frame, questions in frames
            ]
            interpretations = (*interpretations, *merged)
            names_by_interpretation = (*names_by_interpretation, *[as_one] * len(merged))
        rated_by_interpretation = tuple(
            _of_channels(
                with_shocks_marked(with_viscosity(interpretation.drains, oil_term.oils), units),
                interpretation.channels,
                second=second,
                compact=compact,
            )
            for interpretation in interpretations
        )
        sample = sampled_state(state, stream(settings.seed, "sample"), units=processing.sample_units)
        pairs, unpaired = leg_pairs(sample)
        in_use = with_viscosity(new_unit_rows(drains, state), oil_term.oils)
        return Described(
            processing=processing,
            drains=drains,
            units=units,
            usage=usage,
            bookings=bookings,
            rides_of_similar_units=rides_of_similar_units(
                usage, bookings, drains, log.similar_names.get("unit_id", ())
            ),
            state=state,
            combinations=conditions(in_use),
            signs=inspect_now(drains, signs, units=units),
            sample=sample,
            model_drains=model_drains,
            rated=rated,
            rated_by_interpretation=rated_by_interpretation,
            names_by_interpretation=names_by_interpretation,
            questions_by_interpretation=tuple(item.questions for item in interpretations),
            names_as_one={} if processing.fit_interpretations else as_one,
            measured=measured_series(log, drains, settings),
            unsure_scales=unsure_scales(accepted),
            reference_rater=rater,
            left_out=tuple(item for drains_of_channel in rated.values() for item in drains_of_channel.left_out),
            oil_description=oil_term.description,
            pairs=pairs,
            unpaired=unpaired,
            warnings=sample_note(state, sample),
        )


def measured_series(log: Log, drains: pl.DataFrame, settings: Settings) -> tuple[WearSeries, ...]:
    """Measured quantities up to the log's day; none without measurements.

    drains : the log's, as `known_drains` gives them. Raises SettingsError for a limit that cannot be read.
    """
    if "measurements" not in log.accepted:
        return ()
    return wear_series(
        log.accepted["measurements"],
        as_texts(drains),
        oils=log.accepted.get("oils"),
        limits=parsed_limits(settings),
        as_of=log.as_of,
        rule=settings.laboratory,
    )


def processing_of(log: Log) -> FleetProcessing:
    """How a fleet of the size of the log's is processed."""
    units, drains = _with_limits(log), log.accepted["drains"]
    return fleet_processing(units=units_in_service(drains, units), drains=drains.height)


def _with_limits(log: Log) -> pl.DataFrame | None:
    """The register with the limits of its held-back rows, and of names that may be a unit's."""
    units, legible = log.accepted.get("units"), log.legible.get("units")
    if units is None:
        return None
    similar_rows = rows_of_similar_units(units, log.accepted["drains"], log.similar_names.get("unit_id", ()))
    rows = [similar_rows, *([] if legible is None else [legible])]
    needed = ("unit_key", "unit_id", *LIMITS)
    return with_held_back_limits(units, pl.concat([table.select(needed) for table in rows], how="vertical_relaxed"))


def _rated(drains: pl.DataFrame, second: pl.DataFrame | None, *, compact: bool) -> dict[str, RatedDrains]:
    """Every channel's rated drains, with their second ratings."""
    return {
        channel: drains_of_channel.with_second(second)
        for channel, drains_of_channel in describe_channels(drains, compact=compact).items()
    }


def _of_channels(
    drains: pl.DataFrame, channels: tuple[str, ...], *, second: pl.DataFrame | None, compact: bool
) -> dict[str, RatedDrains]:
    rated = _rated(drains, second, compact=compact)
    return {channel: rated[channel] for channel in channels}


def _reference_rater(drains: pl.DataFrame, settings: Settings) -> str | None:
    """The settings' reference rater, spelt as in the log where the log has that name."""
    wanted = settings.reference_rater
    if wanted is None:
        return None
    names = drains["rated_by"].cast(pl.String).drop_nulls().unique().sort().to_list()
    return next((name for name in names if spelling_key(name) == spelling_key(wanted)), wanted)
