"""The compiled kernels: the marginal likelihood of the rating model by adaptive Gauss-Hermite quadrature.

`rating_probability` gives one rating's log probability and its derivatives, `adaptive_quadrature` integrates a
unit's effect out of them, and `node_gradient` adds the part of the gradient that comes from the moving nodes.
`louis_identity` gives the Hessian. Under the logit link `logit_factors` replaces most exponentials by products.
Two passes are built on that: `value_gradient_hessian` (with `node_values` and `block_sums`) for one parameter vector
over a large log, and `draw_likelihoods` (with `unit_effect_density`) for many parameter vectors over a small one.

Compiled functions take their arguments by position: numba's dispatch from Python does not accept keyword-only ones.
They are functions of a module, so that Dask workers find them by name.
"""
