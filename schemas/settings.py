"""The shop's policy: accepted risk, limits, costs, caps, priors, read from a TOML file and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, is_dataclass
from pathlib import Path
from typing import Any

from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel
from draincurve.schemas.checked_settings import (
    by_column,
    choice,
    complete_mappings,
    filled,
    keys_of,
    one_each,
    setting,
    text,
    texts,
    toml_table,
    words,
)
from draincurve.schemas.columns import TABLES, WORD_KINDS
from draincurve.schemas.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Limits:
    """Rating of each channel at or over which the oil of a drain is past fit."""

    ratings: Mapping[str, int] = one_each(
        {
            channel.name: (
                channel.rating,
                setting(channel.default_limit, 2, RATING_HIGH, f"{channel.name} rating at which oil is past fit"),
            )
            for channel in CHANNELS
        }
    )

    def __post_init__(self) -> None:
        complete_mappings(self)


@dataclass(frozen=True, slots=True)
class Costs:
    """Costs of an oil change and of a late one, in any currency. Without them there is no cost interval."""

    change: float | None = setting(None, 1e-9, 1e12, "cost of one oil change on time")
    late: float | None = setting(None, 1e-9, 1e12, "extra cost when the oil was past fit at the change")


@dataclass(frozen=True, slots=True)
class Caps:
    """Limits of the whole fleet. A unit's own limit takes precedence where it is shorter."""

    max_interval_h: float | None = setting(None, 0.01, 2000, "component maker's limit [h]")
    max_oil_days: float | None = setting(None, 1, 3660, "longest time oil may stay in a unit [days]")


@dataclass(frozen=True, slots=True)
class VisitRule:
    """When oil and parts are seen to at one visit."""

    near_days: int = setting(14, 0, 366, "dates of one unit at most so many days apart are one visit, at the first")


@dataclass(frozen=True, slots=True)
class LaboratoryRule:
    """Which drain a laboratory's sample belongs to."""

    sample_days: int = setting(7, 0, 60, "a sample without hours is of the drain at most so many days before it")
    report_days: int = setting(45, 0, 400, "a sample with a drain's hours is of it up to so many days later")
    sample_hours: float = setting(1.0, 0, 50, "hours on the oil that differ by no more are the same [h]")


@dataclass(frozen=True, slots=True)
class StandingRule:
    """When a unit is called faster or slower than the fleet."""

    ratio: float = setting(0.8, 0.05, 0.99, "hours ratio at or under which a unit counts as faster")
    probability: float | None = setting(None, 0.5, 0.9999, "least posterior probability to call a unit")
    false_discovery: float = setting(0.10, 0.001, 0.5, "largest expected share of wrong calls among the called")
    fewest_drains: int = setting(3, 1, 1000, "units with fewer rated drains are never called")


@dataclass(frozen=True, slots=True)
class Priors:
    """Priors of the rating model, on the scale of the logit link. Other links are rescaled."""

    first_threshold_sd: float = setting(
        5.0, 0.01, 100, "sd of the first threshold around 0, at the log's mean log hours"
    )
    gap: float = setting(1.5, 0.01, 100, "median gap between thresholds")
    gap_log_sd: float = setting(0.7, 0.01, 10, "sd of the log of a gap")
    hours_slope: float = setting(2.0, 0.01, 100, "median slope over log hours")
    hours_slope_log_sd: float = setting(0.5, 0.01, 10, "sd of the log of the slope")
    coefficient_sd: float = setting(1.0, 0.001, 100, "sd of a covariate's effect")
    unit_sd: float = setting(1.0, 0.001, 100, "scale of the half-normal for the sd between units")
    part_age: float = setting(0.5, -10, 10, "mean of the effect of a part's wear over its median life")
    part_age_sd: float = setting(1.0, 0.001, 100, "sd of the effect of a part's wear over its median life")
    pooled_sd: float = setting(0.5, 0.001, 100, "scale of the half-normal for the sd between riders, raters, sites")
    unit_correlation_high: float = setting(
        2.0, 0.5, 100, "a unit's effects on two channels have the correlation 2 Beta(high, low) - 1"
    )
    unit_correlation_low: float = setting(1.0, 0.5, 100, "the second number of that beta distribution")
    log_odds_ratio: float = setting(0.5, -5, 5, "log odds ratio of a drain's two ratings, beyond the unit")
    log_odds_ratio_sd: float = setting(1.0, 0.01, 10, "sd of that log odds ratio")


_COLUMNS = tuple(dict.fromkeys(column.name for table in TABLES.values() for column in table))
_WORD_COLUMNS = tuple(
    dict.fromkeys(column.name for table in TABLES.values() for column in table if column.kind in WORD_KINDS)
)


def _words_for(channel: Channel) -> Any:
    word, rating = channel.shop_word
    return words(f"words of the shop for {channel.name} ratings, e.g. {word} = '{rating}'", {word: rating})


@dataclass(frozen=True, slots=True)
class Settings:
    """The shop's policy. Every key of the TOML file is optional."""

    accepted_risk: float = setting(0.10, 0.001, 0.9, "chance of oil past fit at the change that is accepted")
    standard_settle_hours: float = setting(
        0.167, 0, 2160, "time a sample stands before it is rated, where the log is silent [h]"
    )
    step_h: float = setting(0.5, 0.01, 100, "intervals are rounded down to this step [h]")
    data_range_factor: float = setting(1.25, 1, 10, "never beyond this multiple of the longest fill seen")
    link: str = choice("logit", ("logit", "probit", "cloglog"), "shape of hours to a rating")
    date_order: str = choice(
        "from file",
        ("from file", "day first", "month first", "year first"),
        "order of day and month as typed",
    )
    reference_rater: str | None = text(
        None, "whose eye the limits follow, as the log names the rater; none for the average of all", example="TW"
    )
    shop: str | None = text(
        None,
        "whose units these are, so that calendars of two shops can be one; none for the log's name",
        example="North",
    )
    seed: int = setting(20260101, 0, 2**63 - 1, "start of the random numbers")
    quadrature_nodes: int = setting(9, 1, 99, "nodes of the adaptive quadrature over a unit's effect")
    posterior_draws: int = setting(1000, 200, 100000, "draws kept from the posterior")
    limits: Limits = field(default_factory=Limits)
    costs: Costs = field(default_factory=Costs)
    caps: Caps = field(default_factory=Caps)
    standing: StandingRule = field(default_factory=StandingRule)
    visits: VisitRule = field(default_factory=VisitRule)
    laboratory: LaboratoryRule = field(default_factory=LaboratoryRule)
    priors: Priors = field(default_factory=Priors)
    rating_words: Mapping[str, Mapping[str, str]] = one_each(
        {channel.name: (channel.words, _words_for(channel)) for channel in CHANNELS}
    )
    wear_limits: Mapping[str, str] = words(
        "the shop's limits of measured quantities, e.g. iron = '60 mg/kg'", {"iron": "60 mg/kg"}
    )
    maker_wear_limits: Mapping[str, str] = words(
        "the maker's limits of the same; the tighter of the two holds", {"iron": "80 mg/kg"}
    )
    detection_limits: Mapping[str, str] = words(
        "the least that the laboratory can find; what it calls trace, not detected or less is only known to be under "
        "that",
        {"iron": "1 mg/kg"},
    )
    headers: Mapping[str, tuple[str, ...]] = by_column(
        texts("headers"), _COLUMNS, "the shop's own headers of columns", {"unit_id": ["Gabel"]}
    )
    words: Mapping[str, Mapping[str, str]] = by_column(
        words("words", {}),
        _WORD_COLUMNS,
        "the shop's own words in cells: what each is read as, by column",
        {"unit_id": {"FO1": "F01"}},
    )
    clean_end: Mapping[str, int] = by_column(
        choice(RATING_LOW, (RATING_LOW, RATING_HIGH), "rating of clean oil, as typed"),
        tuple(channel.rating for channel in CHANNELS),
        "which end of a scale is the clean one, as typed: 1, or 5 where ratings run the other way",
        {"colour_rating": 5},
    )

    decimals: Mapping[str, str] = by_column(
        choice("hours", ("hours", "minutes"), "what is behind the point"),
        tuple(dict.fromkeys(one.name for table in TABLES.values() for one in table if one.kind == "run hours")),
        "what stands behind the point of hours: parts of an hour, or minutes as in 12.30 for 12:30",
        {"oil_hours": "minutes"},
    )

    def __post_init__(self) -> None:
        complete_mappings(self)
        means: dict[str, str] = {}
        for column, headers in self.headers.items():
            for header in headers:
                if means.setdefault(header, column) != column:
                    raise SettingsError(f"[headers]: '{header}' is given for {means[header]} and {column}; keep one")
        for channel in CHANNELS:
            self.words_of(channel.rating)

    def words_of(self, column: str) -> Mapping[str, str]:
        """The shop's words in the cells of a column, casefolded, and what each is read as.

        For a rating these are [words] and the channel's own table together. Raises SettingsError where they differ.
        """
        words = dict(self.words.get(column, {}))
        for channel in CHANNELS:
            if channel.rating == column:
                for word, rating in self.rating_words[channel.name].items():
                    if words.setdefault(word, rating) != rating:
                        raise SettingsError(
                            f"'{word}' is '{words[word]}' in [words.{column}] and '{rating}' in [{channel.words}]; "
                            "keep one"
                        )
        return words

    def limit_rating(self, channel: str) -> int:
        """The limit of a channel, by its name."""
        return self.limits.ratings[channel]


POLICY = "policy"
"""The table of a nightly run's settings that holds what a settings file of a plan does."""


def read_settings(path: Path | None) -> Settings:
    """Settings from a TOML file, or the defaults when there is no file.

    Of a file with settings of nightly runs it takes the table [policy]. Raises SettingsError for a file that cannot
    be read, an unknown key (with the nearest known one), a value of the wrong kind or outside its possible range, and
    for costs of which only one is given.
    """
    if path is None:
        return Settings()
    values, table = toml_table(path), ""
    if isinstance(values.get(POLICY), dict) and not values.keys() & {key.name for key in keys_of(Settings())}:
        values, table = values[POLICY], POLICY
    settings = filled(Settings(), values, str(path), table)
    return checked_policy(settings, f"{path}: [{f'{table}.' if table else ''}costs]")


def checked_policy(policy: Settings, costs_table: str) -> Settings:
    """The policy, if its parts fit each other. Raises SettingsError otherwise, naming the costs by `costs_table`."""
    if (policy.costs.change is None) != (policy.costs.late is None):
        raise SettingsError(f"{costs_table} needs both change and late, or neither")
    return policy


def settings_as_dict(settings: Any) -> dict[str, Any]:
    """Settings as plain nested values, for run.json."""
    return {
        key.name: settings_as_dict(key.value) if is_dataclass(key.value) else key.value for key in keys_of(settings)
    }
