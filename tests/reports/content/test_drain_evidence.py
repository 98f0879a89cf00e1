"""Counts of drains past the limit, of a unit and of the rest."""

from __future__ import annotations

import polars as pl
from invented_report import FleetShape, build_report

from draincurve.pipeline.judging.channel_result import ChannelResult
from draincurve.reports.content.drain_evidence import drain_evidence
from draincurve.reports.content.unit_names import UnitNames


def channel(name: str, rows: list[tuple[str, float, int | None]]) -> ChannelResult:
    frame = pl.DataFrame(
        [(unit, None, hours, past) for unit, hours, past in rows],
        schema={"unit_id": pl.String, "site": pl.String, "oil_hours": pl.Float64, "past_limit": pl.Int64},
        orient="row",
    )
    return ChannelResult(name, 4, None, frame)


def test_sentence_counts_the_unit_and_the_rest_and_leaves_out_straddling_ranges() -> None:
    rows = [("A", 10.0, 1), ("A", 20.0, 1), ("A", 5.0, None), ("B", 12.0, 0), ("B", 8.0, 0)]
    found = drain_evidence([channel("debris", rows)], UnitNames(frozenset()))
    assert found.sentence("A") == (
        "Debris was past its limit at 2 of 2 drains (mean 15 h on the oil); "
        "in the rest of the fleet at 0 of 2 drains (mean 10 h on the oil)."
    )
    assert found.sentence("C") == ""


def test_the_channel_in_which_a_unit_differs_most_comes_first() -> None:
    colour = channel("colour", [("A", 10.0, 1), ("B", 10.0, 1)])
    debris = channel("debris", [("A", 10.0, 1), ("B", 10.0, 0)])
    found = drain_evidence([colour, debris], UnitNames(frozenset()))
    assert found.sentence("A").startswith("Debris")
    assert len(found.sentences("A")) == 2


def test_tallies_of_all_units_add_up_to_the_fleet() -> None:
    result = build_report(FleetShape(units=12, drains=80))
    found = drain_evidence(result.judged.channels, UnitNames(frozenset()))
    for name, units in found.by_unit.items():
        assert sum(tally.drains for tally in units.values()) == found.fleet[name].drains
        assert sum(tally.past for tally in units.values()) == found.fleet[name].past
