"""What twice the viscosity does to the hours, where oils enter the fit by their viscosity."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from draincurve.pipeline.describing.oil_viscosity import VISCOSITY
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.schemas.channels import title_of


def viscosity_sentences(fits: Iterable[ChannelFit]) -> tuple[str, ...]:
    """One sentence for each channel with the hours multiplier of twice the viscosity, and its 90 % range."""
    said = []
    for fit in fits:
        for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
            if term.column == VISCOSITY:
                draws = np.exp(-np.log(2.0) * fit.coefficients[:, span.start] / fit.hours_slope)
                low, median, high = np.quantile(draws, (0.05, 0.5, 0.95))
                said.append(
                    f"{title_of(fit.drains.channel)}: an oil twice as thick at 40 C lasts {median:.2f} times the "
                    f"hours (90 % range {low:.2f} to {high:.2f})."
                )
    return tuple(said)
