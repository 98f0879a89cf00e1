import numpy as np
import pytest
from described_log import accepted

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.schemas.settings import Priors


def reasons(found):
    return {item.term: item.reason for item in found.left_out}


def kept(found):
    return [term.column for term in found.terms]


def alternating(*levels, run=1):
    return [levels[(i // run) % len(levels)] for i in range(24)]


def test_absent_and_constant_columns_are_left_out_and_named():
    found = describe_channel(accepted(site="bench", surface=None), "debris")
    assert kept(found) == ["spring_type", "part_age"]
    why = reasons(found)
    assert why["surface"] == "the log does not give it for the drains rated for this (no surface)"
    assert why["site"] == "every drain has the same site, so its effect cannot be seen"
    assert why["oil grade"] == "every drain has the same oil grade, so its effect cannot be seen"
    assert why["rater"] == "the log does not give it for the drains rated for this (no rated_by)"
    assert why["settling time"] == "the log does not give it for the drains rated for this (no settle_hours)"
    assert set(why) | {"spring type"} == {
        "spring type",
        "oil grade",
        "rider",
        "surface",
        "site",
        "rater",
        "settling time",
        "run-in of the spring",
        "old oil left behind",
    }
    assert {item.channel for item in found.left_out} == {"debris"}


def test_a_column_fixed_by_another_is_named_with_it():
    springs = ["Plain 46" if i % 3 else "Stepped 46" for i in range(24)]
    riders = ["Ollin" if spring == "Plain 46" else "Tevik" for spring in springs]
    found = describe_channel(accepted(rider=riders), "debris")
    assert kept(found) == ["spring_type", "part_age"]
    assert reasons(found)["rider"] == (
        "cannot be distinguished from spring type: each spring type in the log comes with one rider only; "
        "a swap would tell"
    )


def test_a_column_that_others_fix_together_is_left_out():
    one, two = alternating("A", "B"), alternating("x", "y", run=2)
    both = [0.0 if (a == "A") == (b == "x") else 2.0 for a, b in zip(one, two, strict=True)]
    plain = describe_channel(accepted(spring_type=one, oil_grade=two, settle_hours=both), "debris")
    assert "settling" in kept(plain)
    summed = [(a == "A") * 1.0 + (b == "x") * 2.0 for a, b in zip(one, two, strict=True)]
    found = describe_channel(accepted(spring_type=one, oil_grade=two, settle_hours=list(np.expm1(summed))), "debris")
    assert "settling" not in kept(found)
    assert reasons(found)["settling time"] == "cannot be distinguished from the other columns together"


def test_a_number_that_follows_the_hours_is_left_out():
    hours = [8.0 + (7 * i) % 11 for i in range(24)]
    found = describe_channel(accepted(settle_hours=[h - 1.0 for h in hours]), "debris")
    assert reasons(found)["settling time"] == "cannot be distinguished from the other columns together"


def test_a_column_that_differs_enough_is_kept_in_order():
    found = describe_channel(
        accepted(
            rider=alternating("Brask", "Ollin", run=2),
            site=alternating("north", "south", run=4),
            settle_hours=alternating(0.2, 1.0, 3.0, 0.5, 2.0),
            drained_ml=alternating(480.0, 450.0, 495.0, 470.0, 430.0),
        ),
        "colour",
    )
    assert kept(found) == ["spring_type", "rider", "site", "settling", "carry_over", "part_age"]
    assert found.design.shape == (24, 6)
    assert [span.start for span in found.spans()] == [0, 1, 2, 3, 4, 5]
    assert found.pooled() == ((1,), (2,))
    assert found.column_scales(Priors()).shape == (6,)
    assert found.column_means(Priors()).tolist() == [0, 0, 0, 0, 0, 0.5]
    assert np.linalg.matrix_rank(np.column_stack((np.ones(24), found.log_hours, found.design))) == 8


def test_only_rated_drains_with_hours_are_given_on():
    low = [None, 2, 3] + [1] * 21
    hours = [5.0, None, 7.0] + [6.0 + i for i in range(21)]
    found = describe_channel(accepted(debris_low=low, debris_high=low, oil_hours=hours), "debris")
    assert found.low.size == 22
    assert found.low.dtype == np.int64
    assert found.log_hours == pytest.approx(np.log(found.rows["oil_hours"].to_numpy()))
    assert found.units.tolist() == found.rows["unit_key"].to_list()


def test_ranges_are_handed_on_as_ranges():
    low = [2] * 24
    found = describe_channel(accepted(colour_low=low, colour_high=[3] * 24), "colour")
    assert set(found.low.tolist()) == {2}
    assert set(found.high.tolist()) == {3}


@pytest.mark.parametrize("channel", ["colour", "debris"])
def test_a_channel_without_ratings_gives_no_rows_and_no_error(channel):
    found = describe_channel(accepted(**{f"{channel}_low": None, f"{channel}_high": None}), channel)
    assert found.low.size == 0
    assert found.terms == ()
    assert found.design.shape == (0, 0)
    assert found.pooled() == ()
    assert found.column_scales(Priors()).size == 0


def test_a_log_of_one_drain():
    found = describe_channel(accepted().head(1), "debris")
    assert found.low.tolist() == [1]
    assert kept(found) == ["part_age"]
    assert found.design.tolist() == [[0.0]]
    assert len(found.left_out) == 9
