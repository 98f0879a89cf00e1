"""Draws from the posterior of a fitted rating model, by adaptive importance resampling.

`posterior_draws` runs the rounds: it draws from `proposals` (a multivariate t, nested over the standard deviations of
pooled groups) and from `tail_proposals` (standard deviations near zero, and refits to the weighted draws), weights
the draws against the mixture of all proposals, and smooths the weights by `pareto_smoothing`, whose shape
says whether they can be trusted.
"""
