"""The comparison of springs for a notebook."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from html import escape
from typing import Any

from draincurve.notebook.notebook_inputs import DayInput, SettingsInput, TableInput, frame_of
from draincurve.notebook.pandas_frames import pandas_frame
from draincurve.notebook.read_log import ReadLog, log_of
from draincurve.pipeline.judging.springs import (
    LogSprings,
    compare_log_springs,
    spring_effects_table,
)
from draincurve.reports.tables.text_tables import spring_lines


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SpringComparisons:
    """What `compare_springs` found; printed, it is the table of `draincurve springs` with every reason.

    log : the log; comparisons : the results channel by channel, with the reason of each verdict, what is confounded
    with a spring, and a sentence for each channel without a fit

    >>> import draincurve
    >>> fleet = draincurve.simulate("spring_trial", seed=1, units=6, drains=60)
    >>> draincurve.compare_springs(fleet.drains, fleet.as_of)
    <SpringComparisons: 4 cannot tell yet, 2 sheds more>
    """

    log: ReadLog
    comparisons: LogSprings
    frames: str

    @property
    def effects(self) -> Any:
        """Frame with one row for each channel and pair: hours multiplier with range, p values, verdict."""
        return frame_of(spring_effects_table(self.comparisons.comparisons), self.frames)

    def __str__(self) -> str:
        return "\n".join((*spring_lines(self.comparisons.comparisons), *self.comparisons.unfitted))

    def __repr__(self) -> str:
        verdicts = Counter(pair.verdict for comparison in self.comparisons.comparisons for pair in comparison.pairs)
        counted = ", ".join(f"{count} {verdict}" for verdict, count in verdicts.items())
        return f"<SpringComparisons: {counted or 'no pair to compare'}>"

    def _repr_html_(self) -> str:
        table = pandas_frame(spring_effects_table(self.comparisons.comparisons))
        reasons = [
            f"{comparison.channel}, {pair.spring_type} against {pair.compared_with}: {pair.reason}"
            for comparison in self.comparisons.comparisons
            for pair in comparison.pairs
        ]
        listed = "".join(f"<li>{escape(reason)}</li>" for reason in (*reasons, *self.comparisons.unfitted))
        return f"{table.to_html(index=False, na_rep='', float_format='{:.3g}'.format)}<ul>{listed}</ul>"


def compare_springs(
    log: ReadLog | TableInput,
    as_of: DayInput = None,
    *,
    settings: SettingsInput = None,
    units: TableInput = None,
    oils: TableInput = None,
    frames: str = "pandas",
) -> SpringComparisons:
    """Does a spring shed more? Each pair of springs compared, with units, riders and oils held apart.

    log, as_of, settings, units, oils, frames : as in `plan`

    Each pair has an hours multiplier (0.72: any rating is reached in 0.72 times the hours), tests by likelihood ratio
    and by relabelling, adjusted over all pairs and channels (Holm), and one of four verdicts: sheds more, sheds less,
    no practical difference, cannot tell yet.

    >>> import draincurve
    >>> fleet = draincurve.simulate("spring_trial", seed=1, units=6, drains=60)
    >>> found = draincurve.compare_springs(fleet.drains, fleet.as_of)
    >>> found.effects[["channel", "spring_type", "compared_with", "verdict"]].head(2)
      channel spring_type compared_with          verdict
    0  colour    Plain 46     Coated 46  cannot tell yet
    1  colour  Stepped 46     Coated 46  cannot tell yet
    """
    checked = log_of(log, as_of, settings=settings, sides={"units": units, "oils": oils}, frames=frames)
    return SpringComparisons(checked, compare_log_springs(checked.log, checked.settings), frames)
