"""The steps behind `plan`, one by one; each takes the results of those before it.

The settings and the day are those of the log. `plan` gives the same results, and forecasts the next weeks too. Each
step raises SourceError for an object that is not the result of the step it names.
"""

from __future__ import annotations

from draincurve.notebook.notebook_inputs import of_kind
from draincurve.notebook.read_log import ReadLog
from draincurve.pipeline.deciding import Decided
from draincurve.pipeline.deciding import decide as decide_units
from draincurve.pipeline.describing import Described
from draincurve.pipeline.describing import describe as describe_log
from draincurve.pipeline.fitting import Fitted, choose_oil_term
from draincurve.pipeline.fitting import fit as fit_channels
from draincurve.pipeline.judging import Judged
from draincurve.pipeline.judging import judge as judge_fits


def describe(log: ReadLog) -> Described:
    """The second step: what each unit runs now, and the rated drains of each channel with their covariates.

    log : what `read` gave

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> described = draincurve.describe(draincurve.read(fleet.drains, fleet.as_of))
    >>> described.rated["debris"].low.size
    32
    """
    log = _read(log)
    return describe_log(log.log, log.settings, choose_oil_term=choose_oil_term)


def fit(log: ReadLog, described: Described) -> Fitted:
    """The third step: the rating model of each channel, with draws from its posterior.

    `fitted.channels["debris"]` holds the draws, or a sentence on why there is no fit.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> log = draincurve.read(fleet.drains, fleet.as_of)
    >>> fitted = draincurve.fit(log, draincurve.describe(log))
    >>> fitted.channels["debris"].thresholds.shape
    (1000, 4)
    """
    return fit_channels(_described(described), _read(log).settings)


def judge(log: ReadLog, described: Described, *, fitted: Fitted) -> Judged:
    """The fourth step: risk curves, units and raters that changed, legs, volumes, springs, earlier predictions.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> result = draincurve.plan(fleet.drains, fleet.as_of)
    >>> judged = draincurve.judge(result.log, result.described, fitted=result.fitted)
    >>> [channel.channel for channel in judged.channels]
    ['colour', 'debris']
    """
    log = _read(log)
    return judge_fits(_described(described), _fitted(fitted), log=log.log, settings=log.settings)


def decide(log: ReadLog, described: Described, *, fitted: Fitted, judged: Judged) -> Decided:
    """The fifth step: the interval and the due date of each unit, and what to drain next to learn most.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> result = draincurve.plan(fleet.drains, fleet.as_of)
    >>> decided = draincurve.decide(result.log, result.described, fitted=result.fitted, judged=result.judged)
    >>> decided.next_service["unit_id"].to_list()
    ['S01', 'F01', 'F02', 'F03']
    """
    log = _read(log)
    return decide_units(
        _described(described),
        _fitted(fitted),
        log=log.log,
        judged=of_kind(judged, Judged, name="judged", expected="what `judge` gave"),
        settings=log.settings,
        as_of=log.inputs.as_of,
    )


def _read(log: object) -> ReadLog:
    return of_kind(log, ReadLog, name="log", expected="what `read` gave")


def _described(described: object) -> Described:
    return of_kind(described, Described, name="described", expected="what `describe` gave")


def _fitted(fitted: object) -> Fitted:
    return of_kind(fitted, Fitted, name="fitted", expected="what `fit` gave")
