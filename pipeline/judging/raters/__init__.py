"""Raters: how far two agree on the same drains, who rates dirtier or cleaner, and whose ratings drift over time.

`rater_agreement` compares ratings of the same drains, `rater_shift` gives each rater's effect in rating levels, and
`rater_result` puts the findings of one channel together. Whose ratings drift is found with the fit (`fitting`).
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
