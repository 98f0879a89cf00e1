"""Invented fleets with a known truth, for samples and for checking the fit against."""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
