"""Springs compared with each other: which sheds more, what the log cannot show, and what would show it.

`comparable_springs` selects drains and pairs, `identifiability` and `confounding` say what a pair cannot be separated
from, `pair_tests` holds the tests and `sample_size` the drains needed. `pair_evidence` collects the numbers of a
pair, `spring_verdicts` puts them in words, and `spring_comparison` runs all of it over the channels.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
