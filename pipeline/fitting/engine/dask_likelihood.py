"""A likelihood whose partitions are on the workers of a Dask cluster, one actor a worker.

A pass sends the parameters and returns an expansion for each partition. An actor is lost with its worker; its
partitions are then sent again, from the ratings, which stay in this process, and all passes so far are repeated on
them, so that their units' modes have the same bits. Partitions that no worker can take stay in this process.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import zip_longest
from typing import Any

import numpy as np

from draincurve.pipeline.fitting.engine.dask_workers import WorkerActor, WorkerLostError, Workers
from draincurve.pipeline.fitting.engine.local_engine import PartitionStore, partitioning, total
from draincurve.pipeline.fitting.likelihood import Expansion, Likelihood
from draincurve.schemas.array_types import Floats

MOST_LOSSES = 20
"""After this many losses of workers during one fit, partitions without a worker stay in this process."""


class _LocalStore:
    """A partition store in this process, with the interface of a worker's."""

    def __init__(self) -> None:
        self._store = PartitionStore()

    def ask(self, method: str, *arguments: object) -> Callable[[], Any]:
        """A call of `PartitionStore`, made when its result is asked for."""
        return lambda: getattr(self._store, method)(*arguments)


Store = WorkerActor | _LocalStore


class DaskLikelihood:
    """Partitions with their stores, and every pass made so far."""

    def __init__(self, workers: Workers, likelihood: Likelihood) -> None:
        self._workers = workers
        self._likelihood = likelihood
        self._partitioning = partitioning(likelihood)
        self._passes: list[Floats] = []
        self._actors: dict[str, WorkerActor] = {}
        self._local = _LocalStore()
        self._stores: dict[int, Store] = {}
        self._losses = 0

    def expansion(self, natural: Floats) -> Expansion:
        """One pass at natural parameters (P,), summed over the partitions in their order."""
        expansions = self._of_all("expansions", natural)
        self._passes.append(natural)
        return total(expansions)

    def modes(self) -> Floats:
        """The units' modes after the last pass, (U,)."""
        return np.concatenate(self._of_all("modes"))

    def _of_all(self, method: str, *arguments: object) -> list[Any]:
        """One value for each partition, in their order; partitions of a lost worker are assigned and asked again.

        A partition that has answered is not assigned again in the same round, where it would miss the round's pass.
        """
        results: dict[int, Any] = {}
        while missing := [number for number in range(self._partitioning.count) if number not in results]:
            self._assign(missing)
            by_store: dict[Store, list[int]] = {}
            for number in missing:
                by_store.setdefault(self._stores[number], []).append(number)
            asked = [(store, numbers, store.ask(method, numbers, *arguments)) for store, numbers in by_store.items()]
            for store, numbers, answer in asked:
                try:
                    results |= zip(numbers, answer(), strict=True)
                except WorkerLostError:
                    self._drop_store(store)
        return [results[number] for number in range(self._partitioning.count)]

    def _assign(self, numbers: Sequence[int]) -> None:
        """Give each of these partitions a store; at most one partition for each store is sent at a time."""
        while unassigned := [number for number in numbers if number not in self._stores]:
            shares = self._shares(unassigned)
            for wave in zip_longest(*shares.values()):
                sent = [
                    (store, number, store.ask("add", number, self._part(number), self._passes))
                    for store, number in zip(shares, wave, strict=True)
                    if number is not None
                ]
                for store, number, answer in sent:
                    try:
                        answer()
                        self._stores[number] = store
                    except WorkerLostError:
                        self._drop_store(store)

    def _part(self, number: int) -> Likelihood:
        return self._partitioning.part(self._likelihood, number)

    def _shares(self, unassigned: Sequence[int]) -> dict[Store, list[int]]:
        """The partitions that each store gets, so that all stores have about equally many."""
        present = {} if self._losses > MOST_LOSSES else self._workers.awaited()
        for address in present.keys() - self._actors.keys():
            self._actors[address] = self._workers.actor(address)
        stores: list[Store] = [self._actors[address] for address in present] or [self._local]
        load = Counter(self._stores.values())
        shares: dict[Store, list[int]] = {store: [] for store in stores}
        for number in unassigned:
            store = min(stores, key=lambda candidate: load[candidate])
            load[store] += 1
            shares[store].append(number)
        return shares

    def _drop_store(self, store: Store) -> None:
        """Drop a lost worker's actor and the assignment of its partitions."""
        lost = [address for address, actor in self._actors.items() if actor is store]
        for address in lost:
            del self._actors[address]
            self._losses += 1
            self._workers.forget(address)
        self._stores = {number: holder for number, holder in self._stores.items() if holder is not store}
