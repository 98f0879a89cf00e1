import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.design_terms import contrast_term, number_term, pooled_term, prior_scale
from draincurve.schemas.settings import Priors

SPRINGS = pl.DataFrame({"spring_type": ["B", "A", None, "C", "A", "B"]})
NUMBERS = pl.DataFrame({"settling": [0.0, 1.0, None, 2.0]})


@pytest.mark.parametrize("make", [contrast_term, pooled_term])
def test_levels_sum_to_zero_and_are_told_apart(make):
    term = make("spring_type", "spring type", SPRINGS)
    assert term.levels == ("A", "B", "C")
    assert term.width == 2
    assert term.contrasts.sum(axis=0) == pytest.approx([0, 0])
    assert term.contrasts.T @ term.contrasts == pytest.approx(np.eye(2))
    # Any two levels are equally far apart, so the prior favours no pair.
    apart = [np.linalg.norm(term.contrasts[i] - term.contrasts[j]) for i, j in ((0, 1), (0, 2), (1, 2))]
    assert apart == pytest.approx([np.sqrt(2)] * 3)


@pytest.mark.parametrize("make", [contrast_term, pooled_term])
def test_coding_is_replayed_and_an_unknown_level_is_the_average(make):
    term = make("spring_type", "spring type", SPRINGS)
    again = term.encode(pl.DataFrame({"spring_type": ["C", "never seen", None, "A"]}))
    assert again[0] == pytest.approx(term.contrasts[2])
    assert again[3] == pytest.approx(term.contrasts[0])
    assert again[1:3] == pytest.approx(np.zeros((2, 2)))
    places = term.level_indices(pl.DataFrame({"spring_type": ["C", "never seen", None, "A"]}))
    assert places.tolist() == [2, 3, 3, 0]


def test_order_of_rows_does_not_change_the_coding():
    term = contrast_term("spring_type", "spring type", SPRINGS)
    other = contrast_term("spring_type", "spring type", SPRINGS.reverse())
    assert other.levels == term.levels
    assert np.array_equal(other.encode(SPRINGS), term.encode(SPRINGS))


def test_a_number_is_centred_once_and_a_missing_one_is_the_mean():
    term = number_term("settling", "settling time", NUMBERS)
    assert term.centre == 1.0
    assert term.encode(NUMBERS)[:, 0].tolist() == [-1.0, 0.0, 0.0, 1.0]
    assert term.encode(pl.DataFrame({"settling": [5.0]}))[0, 0] == 4.0


@pytest.mark.parametrize("levels", [2, 3, 8])
def test_every_level_of_a_contrast_has_the_full_prior_sd(levels):
    frame = pl.DataFrame({"spring_type": [f"s{i}" for i in range(levels)]})
    term = contrast_term("spring_type", "spring type", frame)
    sd = np.sqrt(np.sum(term.contrasts**2, axis=1)) * prior_scale(term, Priors())
    assert sd == pytest.approx(np.ones(levels))
    assert prior_scale(number_term("settling", "settling time", NUMBERS), Priors()) == 1.0
