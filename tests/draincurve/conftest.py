"""Pictures that open no window."""

import pytest


@pytest.fixture
def drawn_in_memory():
    import matplotlib as mpl
    from matplotlib import pyplot

    with mpl.rc_context({"backend": "agg"}):
        yield
    pyplot.close("all")
