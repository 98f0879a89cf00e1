"""In words: what is confounded with a spring in this log, and what swap would separate the two."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from draincurve.pipeline.judging.springs.identifiability import LEVEL_TERMS, NUMBER_TERMS, SPRING
from draincurve.pipeline.judging.springs.pair_evidence import PairEvidence

_ONLY = {
    "rider": "was ridden by {level} only",
    "oil_grade": "ran in {level} only",
    "site": "was used at {level} only",
    "surface": "was ridden on {level} only",
    "rated_by": "was rated by {level} only",
    "unit_id": "was in unit {level} only",
}
_WHAT = LEVEL_TERMS | {"unit_id": "unit"}

_LEVEL_SWAPS = {
    "rider": "fit {spring} for {level}",
    "oil_grade": "run {spring} in {level}",
    "site": "use {spring} at {level}",
    "surface": "ride {spring} on {level}",
    "rated_by": "let {level} rate {spring}",
    "chamber": "compare {spring} where it runs in the {level} chamber",
}
_EVERY_LEVEL = "let each {what} see both {first} and {second}"
_OTHER_SWAPS = {
    "period": "run {first} in some units while others run {second}",
    "part_age": "compare them at the same hours on the part",
    "log_hours": "drain both at the same spread of hours",
    "settling": "let samples of both stand for the same time",
    "freshness": "compare them at the same hours on the spring",
    "carry_over": "drain both in the same way",
}


def confounded_sentences(rows: pl.DataFrame) -> tuple[str, ...]:
    """One sentence for each spring and column where the spring was seen with one level only, and others were not.

    rows : comparable drains.
    """
    sentences = []
    for spring in rows[SPRING].unique().sort().to_list():
        of_spring = rows.filter(pl.col(SPRING) == spring)
        for column, template in _ONLY.items():
            levels = of_spring[column].drop_nulls().unique().to_list()
            if len(levels) != 1 or rows[column].drop_nulls().n_unique() < 2:
                continue
            others = rows.filter((pl.col(column) == levels[0]) & (pl.col(SPRING) != spring))[SPRING]
            sentences.append(_sentence(spring, template.format(level=levels[0]), what=_WHAT[column], others=others))
    return tuple(sentences)


def calendar_sentences(pairs: Sequence[PairEvidence], rows: pl.DataFrame) -> tuple[str, ...]:
    """One sentence for each spring that came in for the whole fleet at one time, so that a pair is not separable."""
    sentences = []
    for pair in pairs:
        if "period" in culprits(pair):
            began = rows.group_by(SPRING).agg(pl.col("drained_on").min().alias("day"), pl.col("drained_on").median())
            both = began.filter(pl.col(SPRING).is_in([pair.spring_type, pair.compared_with]))
            later = both.sort("drained_on", SPRING).row(1, named=True)
            sentences.append(
                f"No drain on {later[SPRING]} is from before {later['day']:%B %Y}: what else changed then cannot be "
                "told from it."
            )
    return tuple(dict.fromkeys(sentences))


def culprits(pair: PairEvidence) -> tuple[str, ...]:
    """Columns from which a pair cannot be separated, including the unit."""
    by = () if pair.separation.separable else pair.separation.by
    return (*by, *(("unit_id",) if pair.lone_unit is not None else ()))


def confounders_text(pair: PairEvidence) -> str:
    """The same in words: the rider, and the site."""
    names = [f"the {(_WHAT | NUMBER_TERMS)[name]}" for name in culprits(pair)]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{listed} together" if pair.separation.together and pair.lone_unit is None else listed


def swap(pair: PairEvidence, rows: pl.DataFrame) -> str:
    """What would separate the pair, one clause for each confounded column."""
    return "; ".join(_swap(pair, rows, name=name) for name in culprits(pair))


def _sentence(spring: str, only: str, *, what: str, others: pl.Series) -> str:
    if others.len() == 0:
        return f"{spring} {only}, with no drains on another spring: it cannot be told from that {what}."
    names = ", ".join(others.unique().sort().to_list())
    return f"{spring} {only}; drains of {names} with the same {what} are all that tells spring and {what} apart."


def _swap(pair: PairEvidence, rows: pl.DataFrame, *, name: str) -> str:
    first, second = pair.spring_type, pair.compared_with
    if name == "unit_id":
        return f"swap {first} and {second} between unit {pair.lone_unit} and another that both fit"
    if name in _OTHER_SWAPS:
        return _OTHER_SWAPS[name].format(first=first, second=second)
    clauses = [
        _LEVEL_SWAPS[name].format(spring=spring, level=level)
        for spring, level in (
            (first, _own_level(rows, second, other=first, column=name)),
            (second, _own_level(rows, first, other=second, column=name)),
        )
        if level is not None
    ]
    return ", or ".join(clauses) or _EVERY_LEVEL.format(what=LEVEL_TERMS[name], first=first, second=second)


def _own_level(rows: pl.DataFrame, spring: str, *, other: str, column: str) -> str | None:
    """The commonest level that a spring was seen with and the other was not."""
    known = rows.drop_nulls(column)
    elsewhere = known.filter(pl.col(SPRING) == other)[column].unique().to_list()
    only_with_spring = known.filter((pl.col(SPRING) == spring) & ~pl.col(column).is_in(elsewhere))
    if only_with_spring.is_empty():
        return None
    return str(only_with_spring.group_by(column).len().sort(["len", column], descending=[True, False])[column][0])
