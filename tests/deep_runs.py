"""How many examples a test tries: the usual number, or ten times as many with `--hypothesis-profile=deep`."""

from __future__ import annotations

from hypothesis import settings

USUAL, _EXAMPLES = "usual", 100

settings.register_profile(USUAL, max_examples=_EXAMPLES, deadline=None, derandomize=True)
settings.register_profile("deep", settings.get_profile(USUAL), max_examples=10 * _EXAMPLES)


def examples(usual: int) -> int:
    """Examples to try in this run; usual : without the deep profile."""
    return usual * settings().max_examples // _EXAMPLES
