"""The main job, step by step: read, describe, fit, judge, decide, look ahead."""

from __future__ import annotations

from dataclasses import replace

from draincurve.pipeline.deciding import decide, look_ahead
from draincurve.pipeline.describing import describe, processing_of, with_categorical_names
from draincurve.pipeline.fitting import choose_oil_term, engine_at, fit
from draincurve.pipeline.judging import judge
from draincurve.pipeline.plan_result import PlanResult, versions_here
from draincurve.pipeline.reading import Log, RunInputs, read
from draincurve.pipeline.stopwatch import Progress, Stopwatch, silent


def plan(inputs: RunInputs, progress: Progress = silent, *, log: Log | None = None) -> PlanResult:
    """From a log to each unit's next-service point.

    log : what `read` gave for these inputs, None to read them here.
    Raises SourceError and SettingsError for input that cannot be used as a whole, and EngineError for an engine that
    cannot be used; a bad row never stops a run.
    """
    watch, as_of = Stopwatch(progress), inputs.as_of
    with engine_at(inputs.engine) as engine_for:
        settings = inputs.policy()
        log = log or read(inputs, settings, watch=watch)
        processing = inputs.processing or processing_of(log)
        if processing.categorical_names:
            log = replace(log, accepted=log.accepted | {"drains": with_categorical_names(log.accepted["drains"])})
        described = describe(log, settings, processing=processing, choose_oil_term=choose_oil_term, watch=watch)
        engine = engine_for(processing, described.state.height)
        fitted = fit(described, settings, engine=engine, watch=watch)
        judged = judge(described, fitted, log=log, settings=settings, watch=watch)
        decided = decide(
            described, fitted, log=log, judged=judged, settings=settings, as_of=as_of, engine=engine, watch=watch
        )
        if not processing.keep_model_drains:
            described, fitted = described.without_model_drains(), fitted.without_drains()
        ahead = look_ahead(described, decided, settings=settings, as_of=as_of, watch=watch)
        return PlanResult(
            settings=settings,
            log=log,
            described=described,
            fitted=fitted,
            judged=judged,
            decided=decided,
            forecast=ahead,
            warnings=(*log.grown, *described.warnings, *engine.notes, *judged.warnings, *decided.warnings),
            timings=watch.seconds,
            versions=versions_here(),
        )
