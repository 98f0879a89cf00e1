"""The compiled kernels: the marginal likelihood of the rating model by adaptive Gauss-Hermite quadrature.

`rating_probability` gives one rating's log probability and its derivatives, `adaptive_quadrature` integrates a
unit's effect out of them, and `node_gradient` adds the part of the gradient that comes from the moving nodes.
`louis_identity` gives the Hessian. Under the logit link `logit_factors` replaces most exponentials by products.
Two passes are built on that: `value_gradient_hessian` (with `node_values` and `block_sums`) for one parameter vector
over a large log, and `draw_likelihoods` (with `unit_effect_density`) for many parameter vectors over a small one.

Names: `by_x` is a derivative by x. `bounds` (K + 1) are the thresholds between -inf and +inf, so that rating k is
between bounds[k - 1] and bounds[k]. Compiled functions take their arguments by position, because numba does not
accept keyword-only ones, and are functions of a module, so that Dask workers find them by name.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
