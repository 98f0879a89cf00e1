from dataclasses import replace

import pytest
from spring_logs import compared, crossed, rated

from draincurve.pipeline.judging.springs.spring_comparison import spring_effects_table
from draincurve.schemas.errors import ContractError
from draincurve.schemas.spring_effects_table import COLUMNS

CONTRACT = (
    "channel, spring_type, compared_with, hours_multiplier, low, high, p_value, p_adjusted, p_permutation, verdict, "
    "drains, units, shared_riders, shared_oils, drains_needed"
)


@pytest.fixture(scope="module")
def comparison():
    return compared(rated(crossed(6, 8), 1, {"Stepped": 1.7}))


def test_the_columns_are_the_contracts(comparison):
    table = spring_effects_table([comparison])
    assert tuple(table.columns) == COLUMNS == tuple(CONTRACT.split(", "))
    assert table.height == 1
    assert table["channel"].to_list() == ["debris"]


def test_no_pair_is_an_empty_table_with_the_same_columns():
    empty = spring_effects_table([])
    assert empty.height == 0
    assert tuple(empty.columns) == COLUMNS


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"verdict": "probably more"}, "verdict"),
        ({"low": 9.0}, "low is not over hours_multiplier"),
        ({"high": 0.001, "hours_multiplier": 0.002, "low": 0.0005}, "hours_multiplier is not over high"),
        ({"compared_with": "Stepped", "spring_type": "Stepped"}, "not compared with itself"),
        ({"verdict": "sheds more", "p_value": None, "p_adjusted": None, "drains_needed": None}, "has a test"),
        ({"verdict": "sheds more", "drains_needed": 4}, "needs no drains"),
        ({"units": 1000}, "no more units than drains"),
        ({"hours_multiplier": float("nan")}, "NaN"),
        ({"hours_multiplier": None, "low": None, "high": None}, "together or not at all"),
        ({"low": None}, "together or not at all"),
    ],
)
def test_what_breaks_the_contract_is_refused(comparison, change, words):
    broken = replace(comparison, pairs=(replace(comparison.pairs[0], **change),))
    with pytest.raises(ContractError, match=words):
        spring_effects_table([broken])


def test_a_pair_that_cannot_be_separated_has_no_number(comparison):
    cells = ("hours_multiplier", "low", "high", "p_value", "p_adjusted", "p_permutation", "drains_needed")
    hidden = replace(comparison.pairs[0], verdict="cannot tell yet", **dict.fromkeys(cells))
    table = spring_effects_table([replace(comparison, pairs=(hidden,))])
    assert table.select(cells).row(0) == (None,) * len(cells)


def test_a_pair_stands_once_whichever_way_round(comparison):
    pair = comparison.pairs[0]
    turned = replace(pair, spring_type=pair.compared_with, compared_with=pair.spring_type)
    with pytest.raises(ContractError, match="twice"):
        spring_effects_table([replace(comparison, pairs=(pair, turned))])
