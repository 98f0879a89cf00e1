"""The two legs of one fork: which needs its oil sooner, and whether entries of a drain were swapped between them.

`leg_likelihood` says what a leg's own ratings say of its hours, `leg_comparison` compares the legs of each pair, and
`leg_swaps` looks for drains whose ratings fit the other leg better.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
