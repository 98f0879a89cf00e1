"""Weighted kappa against published tables.

Cohen (1968), Psychol. Bull. 70, 213-220, table 1: counts of 200 diagnoses and weights confirmed in public
documentation; the printed kappa .492 and weighted kappa .348 are from memory, more digits computed.
Skin-condition ratings of 88 patients by two dermatologists, table 3.2 of the SAS/STAT 13.1 user's guide (FREQ
procedure): table as printed; .3449 and .5082 from memory, more digits computed.
AIAG, Measurement Systems Analysis, attribute study of 50 parts by 3 appraisers: 2 x 2 tables and .86, .78, .79 from
memory, whose margins agree with each other.
"""

import numpy as np
import pytest

from draincurve.pipeline.judging.raters.rater_agreement import weighted_kappa

COHEN = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
COHEN_WEIGHTS = [[0, 1, 3], [1, 0, 6], [3, 6, 0]]
SKIN = [[10, 4, 1, 0], [5, 10, 12, 2], [2, 4, 12, 5], [0, 2, 6, 13]]
UNWEIGHTED = (1.0 - np.eye(3)).tolist()


@pytest.mark.parametrize(
    ("table", "weights", "kappa", "error"),
    [
        (COHEN, UNWEIGHTED, 0.4915254237, 0.05100181558),
        (COHEN, COHEN_WEIGHTS, 0.347826087, 0.07550401525),
        (COHEN, "linear", 0.4736842105, 0.05443230918),
        (COHEN, "quadratic", 0.4545454545, 0.06645368159),
        (SKIN, "linear", 0.5081600715403533, 0.06550838103476841),
        (SKIN, "quadratic", 0.6607228915662648, 0.06164283241700003),
    ],
)
def test_published_weighted_kappa(table, weights, kappa, error):
    found = weighted_kappa(np.array(table), weights if isinstance(weights, str) else np.array(weights))
    assert found.value == pytest.approx(kappa, abs=1e-9)
    assert found.standard_error == pytest.approx(error, abs=1e-9)
    assert found.low == pytest.approx(kappa - 1.96 * error, abs=1e-8)


@pytest.mark.parametrize(
    ("table", "printed", "kappa"),
    [
        ([[44, 6], [3, 97]], 0.86, 0.8629441624),
        ([[43, 7], [8, 92]], 0.78, 0.776119403),
        ([[42, 5], [9, 94]], 0.79, 0.7880072683),
    ],
)
def test_two_appraisers_of_an_attribute_study(table, printed, kappa):
    found = weighted_kappa(np.array(table), "linear").value
    assert found == pytest.approx(kappa, abs=1e-9)
    assert round(found, 2) == printed
