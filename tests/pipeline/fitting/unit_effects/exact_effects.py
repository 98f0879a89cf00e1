"""The distribution of a unit's effect by brute force: its density on a fine grid."""

import numpy as np

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import log_joint_density


def exact_cdf(likelihood, natural, unit):
    """Points z and the share of the density below each."""
    drains = likelihood.drains(natural)
    first, last = likelihood.slices.starts[unit : unit + 2]
    z = np.linspace(-9, 9, 2_401)
    log_values = np.array([log_joint_density(drains, first, last, at) for at in z])
    density = np.exp(log_values - log_values.max())
    below = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2)))
    return z, below / below[-1]
