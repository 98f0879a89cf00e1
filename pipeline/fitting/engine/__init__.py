"""Where the computations of a large fleet run: in this process, or on the workers of a Dask cluster.

`local_engine` defines what an engine does (hold a likelihood in partitions, map a function over tasks) and does it
here; `dask_engine` does the same on workers, with `dask_likelihood` for the likelihood and `dask_workers` for calls
that fail because a worker was lost. `engine_address` turns the `--engine` option into one of them.
"""
