"""What a shop is told of its springs, on invented logs whose truth is known."""

from datetime import date
from importlib.resources import as_file, files

import numpy as np
import pytest
from spring_logs import compared, crossed, drains_frame, fitted, pair_of, rated

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.judging.springs import comparable_springs as comparable
from draincurve.pipeline.judging.springs.spring_comparison import compare_log_springs, compare_springs
from draincurve.pipeline.judging.springs.spring_verdicts import CANNOT_TELL, NO_DIFFERENCE, SHEDS_LESS, SHEDS_MORE
from draincurve.pipeline.reading.read_inputs import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings, read_settings

SHEDS_TWICE = {"Stepped": 1.7}  # exp(-1.7 / 2.4): half the hours


def one_rider_each(rows, also=()):
    """Stepped under Jost alone, Plain under Sunna but for the rows in `also`."""
    return [
        row | {"rider": "Jost" if row["spring_type"] == "Stepped" or place in also else "Sunna"}
        for place, row in enumerate(rows)
    ]


def test_the_spring_trial_finds_the_spring_that_sheds_and_not_the_equal_one():
    """The committed sample: in truth Stepped 46 sheds twice as fast (debris 0.5) and Coated 46 equals Plain 46."""
    with as_file(files("draincurve.sample_data") / "spring_trial") as folder:
        settings = read_settings(folder / "settings.toml")
        log = read(RunInputs(source_address(str(folder / "drains.csv")), date(2026, 6, 20)), settings)
        colour, debris = compare_log_springs(log, settings).comparisons
    for other in ("Plain 46", "Coated 46"):
        pair, multiplier = pair_of(debris, "Stepped 46", other)
        assert pair.verdict == (SHEDS_MORE if pair.spring_type == "Stepped 46" else SHEDS_LESS)
        assert 0.4 < multiplier < 0.7
    pair, _ = pair_of(debris, "Coated 46", "Plain 46")
    assert pair.verdict in (CANNOT_TELL, NO_DIFFERENCE)
    assert {pair.verdict for pair in colour.pairs} <= {CANNOT_TELL, NO_DIFFERENCE}
    assert debris.confounded == ()


def test_a_spring_that_sheds_twice_as_fast_is_found_in_crossed_units():
    found = compared(rated(crossed(10, 12), 1, SHEDS_TWICE))
    pair, multiplier = pair_of(found, "Stepped", "Plain")
    assert pair.verdict == SHEDS_MORE
    assert 0.35 < multiplier < 0.8
    assert pair.low < pair.hours_multiplier < pair.high < 1.0
    assert pair.p_value <= pair.p_adjusted <= 0.05
    assert pair.p_permutation <= 0.05
    assert pair.drains_needed is None
    assert (pair.drains, pair.units, pair.shared_riders, pair.shared_oils) == (120, 10, 2, 1)


def test_many_drains_of_equal_springs_make_no_practical_difference():
    settings = Settings(posterior_draws=400)
    pair, _ = pair_of(compared(rated(crossed(40, 36), 1), settings=settings), "Stepped", "Plain")
    assert pair.verdict == NO_DIFFERENCE
    assert pair.low >= 1 / 1.15
    assert pair.high <= 1.15
    assert pair.drains_needed is None


def test_one_rider_only_gives_no_ranking_and_names_the_swap():
    found = compared(one_rider_each(rated(crossed(10, 12), 1, SHEDS_TWICE)))
    pair, multiplier = pair_of(found, "Stepped", "Plain")
    assert multiplier is pair.low is pair.high is None  # a number would look clear, 0.7x or less
    assert pair.verdict == CANNOT_TELL
    assert pair.p_value is pair.p_adjusted is pair.p_permutation is pair.drains_needed is None
    assert pair.shared_riders == 0
    assert "cannot be distinguished from the rider" in pair.reason
    assert "fit Stepped for Sunna" in pair.reason
    assert "fit Plain for Jost" in pair.reason
    said = "Stepped was ridden by Jost only, with no drains on another spring: it cannot be told from that rider."
    assert said in found.confounded


def test_one_drain_elsewhere_separates_nothing():
    rows = rated(crossed(10, 12), 1, SHEDS_TWICE)
    pair, _ = pair_of(compared(one_rider_each(rows, also=(0,))), "Stepped", "Plain")
    assert pair.shared_riders == 1
    assert pair.verdict == CANNOT_TELL
    assert "but for a few drains" in pair.reason
    assert "fit Stepped for Sunna" in pair.reason


def test_a_spring_under_one_rider_who_rode_both_is_judged_and_named():
    rows = rated(crossed(10, 12), 1, SHEDS_TWICE)
    found = compared(one_rider_each(rows, also=range(0, 120, 5)))
    pair, _ = pair_of(found, "Stepped", "Plain")
    assert pair.verdict == SHEDS_MORE
    assert "times as wide" in pair.reason
    assert len(found.confounded) == 1
    assert "Stepped was ridden by Jost only; drains of Plain with the same rider" in found.confounded[0]


@pytest.mark.parametrize(
    ("column", "levels", "word", "clause"),
    [
        ("oil_grade", ("Fork 5", "Fork 7"), "the oil", "run Stepped in Fork 7"),
        ("site", ("van", "shop"), "the site", "use Stepped at shop"),
        ("surface", ("sand", "mud"), "the surface", "ride Stepped on mud"),
        ("rated_by", ("AL", "PE"), "the rater", "let PE rate Stepped"),
    ],
)
def test_what_goes_with_a_spring_is_named(column, levels, word, clause):
    rows = rated(crossed(8, 8), 2, SHEDS_TWICE)
    rows = [row | {column: levels[0] if row["spring_type"] == "Stepped" else levels[1]} for row in rows]
    pair, _ = pair_of(compared(rows), "Stepped", "Plain")
    assert pair.verdict == CANNOT_TELL
    assert f"cannot be distinguished from {word}" in pair.reason
    assert clause in pair.reason


def test_rider_and_site_together_are_both_named():
    rows = [
        row | {"site": "van" if row["spring_type"] == "Stepped" else "shop"}
        for row in one_rider_each(rated(crossed(8, 8), 2))
    ]
    pair, _ = pair_of(compared(rows), "Stepped", "Plain")
    assert "from the rider and the site" in pair.reason


def test_every_spring_in_one_unit_cannot_be_told_from_the_unit():
    rows = [
        {"unit_id": f"F{unit}", "spring_type": spring, "rider": ("Jost", "Sunna")[drain % 2]}
        for drain in range(12)
        for unit, spring in enumerate(("Plain", "Stepped", "Coated"))
    ]
    found = compared(rated(rows, 3, {"Stepped": 3.0}))
    assert [pair.verdict for pair in found.pairs] == [CANNOT_TELL] * 3
    assert all("cannot be distinguished from the unit" in pair.reason for pair in found.pairs)
    assert len(found.confounded) == 3


def test_two_units_give_no_ranking():
    pair, _ = pair_of(compared(rated(crossed(2, 24), 1, {"Stepped": 3.0})), "Stepped", "Plain")
    assert pair.p_value < 0.05
    assert pair.p_permutation == 0.5
    assert pair.verdict == CANNOT_TELL
    assert "2 units are too few" in pair.reason
    assert pair.drains_needed >= 4 * 24  # four more units like these


def test_every_drain_of_a_spring_at_the_same_hours():
    rows = rated(crossed(8, 8), 1, SHEDS_TWICE)
    rows = [row | {"oil_hours": 10.0 if row["spring_type"] == "Stepped" else 20.0} for row in rows]
    pair, _ = pair_of(compared(rows), "Stepped", "Plain")
    assert pair.verdict == CANNOT_TELL
    assert "from the hours on the oil" in pair.reason
    assert pair.hours_multiplier is None


@pytest.mark.parametrize("rating", [1, 5])
def test_ratings_all_alike_tell_nothing(rating):
    rows = [row | {"debris": rating} for row in rated(crossed(8, 8), 1)]
    pair, _ = pair_of(compared(rows), "Stepped", "Plain")
    assert pair.verdict == CANNOT_TELL
    assert pair.p_value > 0.5
    assert pair.drains_needed is None
    assert "stagger the hours within the limits" in pair.reason


def test_ratings_that_the_springs_tell_apart_perfectly():
    rows = [row | {"debris": 5 if row["spring_type"] == "Stepped" else 1} for row in rated(crossed(8, 8), 1)]
    pair, multiplier = pair_of(compared(rows), "Stepped", "Plain")
    assert multiplier < 0.2
    assert pair.p_value < 1e-6
    assert pair.verdict == SHEDS_MORE


def test_oil_that_does_not_touch_the_spring_is_left_out():
    rows = [row | {"chamber": "Inner "} for row in rated(crossed(6, 6), 1)]
    found = compared(rows)
    assert found.pairs == ()
    assert found.why_none == "no drain is of oil that a spring runs in, so springs cannot be compared"
    assert "Stepped: not compared, since 18 drains are of an inner chamber" in " ".join(found.left_out)


def test_springs_of_shocks_are_not_compared_and_the_reason_is_said():
    rows = [row | {"on_shock": True, "chamber": None} for row in rated(crossed(10, 12), 5)]
    found = compared(rows)
    assert found.pairs == ()
    assert found.why_none == "no drain is of oil that a spring runs in, so springs cannot be compared"
    assert "this chamber's oil does not touch the spring" in " ".join(found.left_out)


def test_inner_oil_of_the_same_cartridge_does_not_water_the_difference_down():
    outer = [row | {"chamber": "outer"} for row in rated(crossed(10, 12), 1, SHEDS_TWICE)]
    inner = [row | {"chamber": "inner"} for row in rated(crossed(10, 12), 5)]
    alone, _ = pair_of(compared(outer), "Stepped", "Plain")
    beside, _ = pair_of(compared(outer + inner), "Stepped", "Plain")
    assert beside.drains == alone.drains == 120
    assert beside.hours_multiplier == pytest.approx(alone.hours_multiplier, rel=0.05)
    assert beside.p_value == pytest.approx(alone.p_value, rel=1e-3)


def test_a_shock_and_a_fork_are_not_compared():
    rows = rated(crossed(6, 6), 1)
    rows += rated([{"unit_id": "S1", "spring_type": "Coil", "chamber": "outer"}] * 6, 2)
    found = compared(rows)
    assert {frozenset((pair.spring_type, pair.compared_with)) for pair in found.pairs} == {
        frozenset(("Plain", "Stepped"))
    }
    assert any("Coil" in line and "not compared" in line for line in found.left_out)


def test_one_spring_has_nothing_to_be_compared_with():
    found = compared(rated([{"unit_id": "F1", "spring_type": "Plain"}], 1))
    assert found.pairs == ()
    assert "every drain of oil that a spring runs in was on Plain" in found.why_none


def test_holm_is_over_the_channels_together():
    debris = rated(crossed(8, 10), 1, SHEDS_TWICE)
    rows = [row | {"colour": other["debris"]} for row, other in zip(debris, rated(crossed(8, 10), 9), strict=True)]
    fits = [fitted(rows, channel) for channel in ("colour", "debris")]
    both = compare_springs(fits, Settings(), rng=np.random.default_rng(2))
    p_values = [pair.p_value for one in both for pair in one.pairs]
    adjusted = [pair.p_adjusted for one in both for pair in one.pairs]
    small, large = np.argsort(p_values)
    assert adjusted[small] == pytest.approx(min(1.0, 2 * p_values[small]))
    assert adjusted[large] == pytest.approx(max(p_values[large], adjusted[small]))


def test_the_same_log_gives_the_same_answer():
    rows = rated(crossed(12, 4), 4)
    assert compared(rows) == compared(rows)


def test_another_link_finds_the_same():
    rows = rated(crossed(10, 12), 1, SHEDS_TWICE)
    for link in ("probit", "cloglog"):
        pair, multiplier = pair_of(compared(rows, settings=Settings(link=link)), "Stepped", "Plain")
        assert pair.verdict == SHEDS_MORE, link
        assert 0.35 < multiplier < 0.8


def test_rare_springs_beyond_the_most_that_are_compared_are_named(monkeypatch):
    """Eight in a shop, three here: the pairs grow with the square."""
    monkeypatch.setattr(comparable, "MOST_SPRINGS", 3)
    springs = tuple(f"S{number}" for number in range(4))
    drains = describe_channel(drains_frame(rated(crossed(4, 8, springs), 1)[:-3]), "debris")
    settings = Settings(posterior_draws=200)
    fit = fit_channel(drains, settings, rng=np.random.default_rng(1))
    (found,) = compare_springs([fit], settings, rng=np.random.default_rng(2))
    assert len(found.pairs) == 3
    assert any(line.startswith("Only the 3 springs with most drains") for line in found.left_out)
