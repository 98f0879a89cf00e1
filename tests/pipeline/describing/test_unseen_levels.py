import numpy as np
import pytest

from draincurve.pipeline.describing.unseen_levels import level_groups


@pytest.mark.parametrize(
    ("seen", "limit", "rated_as"),
    [
        ([1, 4], 4, [1, 1, 1, 4, 4]),
        ([2, 4], 4, [2, 2, 2, 4, 4]),
        ([1, 5], 4, [1, 1, 1, 5, 5]),
        ([1, 5], 3, [1, 1, 5, 5, 5]),
        ([1, 4], 2, [1, 4, 4, 4, 4]),
        ([1, 3, 4], 4, [1, 1, 3, 4, 4]),
        ([1, 3], 4, [1, 1, 3, 4, 5]),
        ([3, 5], 3, [1, 2, 3, 5, 5]),
    ],
)
def test_an_unseen_level_joins_its_neighbour_away_from_the_limit(seen, limit, rated_as):
    groups = level_groups(np.array(seen), np.array(seen), limit=limit)
    assert groups.rated_as.tolist() == rated_as
    assert groups.merged
    for level, (first, last) in enumerate(zip(groups.lowest, groups.highest, strict=True), start=1):
        members = [other for other in range(1, 6) if rated_as[other - 1] == rated_as[level - 1]]
        assert (first, last) == (members[0], members[-1])
        assert first >= limit or last < limit, "a group never holds the limit and a level under it"


@pytest.mark.parametrize("seen", [[1], [1, 2], [2, 3, 4], [3, 4, 5], [1, 2, 3, 4, 5]])
def test_a_scale_without_a_gap_is_left_alone(seen):
    groups = level_groups(np.array(seen), np.array(seen), limit=4)
    assert groups.rated_as.tolist() == [1, 2, 3, 4, 5]
    assert not groups.merged


def test_a_level_at_the_end_of_a_range_is_seen_and_one_inside_it_is_not():
    groups = level_groups(np.array([1, 1, 4]), np.array([1, 3, 4]), limit=4)
    assert groups.rated_as.tolist() == [1, 1, 3, 4, 4]
