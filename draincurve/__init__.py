"""From a service log to how many hours each suspension unit may run before its oil is no longer fit."""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
