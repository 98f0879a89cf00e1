"""A likelihood whose partitions lie on the workers of a Dask cluster, one actor a worker.

A round sends the parameters and brings back a sum for each partition. An actor dies with its worker; its partitions
are then cut anew from the ratings, which stay here, and the passes so far are made again on them, which brings their
units' modes to the same bits. What no worker can take is held here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import zip_longest
from typing import Any

import numpy as np

from draincurve.pipeline.fitting.engine.dask_workers import WorkerActor, WorkerLostError, Workers
from draincurve.pipeline.fitting.engine.local_engine import Partitions, spans, summed
from draincurve.pipeline.fitting.likelihood import Expansion, Likelihood
from draincurve.schemas.array_types import Floats

MOST_LOSSES = 20
"""Workers lost during one fit after which partitions without a holder are held here."""


class _Here:
    """Partitions held in this process, asked as those of a worker are."""

    def __init__(self) -> None:
        self._partitions = Partitions()

    def ask(self, method: str, *arguments: object) -> Callable[[], Any]:
        """A call of Partitions, made when its answer is waited for."""
        return lambda: getattr(self._partitions, method)(*arguments)


Holder = WorkerActor | _Here


class PlacedPartitions:
    """Partitions with their holders, and every pass made so far."""

    def __init__(self, workers: Workers, likelihood: Likelihood) -> None:
        self._workers = workers
        self._likelihood = likelihood
        self._spans = spans(likelihood)
        self._passed: list[Floats] = []
        self._actors: dict[str, WorkerActor] = {}
        self._here = _Here()
        self._holders: dict[int, Holder] = {}
        self._losses = 0

    def expansion(self, natural: Floats) -> Expansion:
        """One pass at natural parameters, summed over the partitions in their order."""
        found = self._of_all("expansions", natural)
        self._passed.append(natural)
        return summed(found)

    def modes(self) -> Floats:
        """The units' modes after the last pass, (U,)."""
        return np.concatenate(self._of_all("modes"))

    def _of_all(self, method: str, *arguments: object) -> list[Any]:
        """One value a partition, in their order; those whose holder gets lost are placed and asked again.

        A partition that has answered is not placed again in the same round: it would lack the round's pass.
        """
        found: dict[int, Any] = {}
        while missing := [number for number in range(self._spans.count) if number not in found]:
            self._place(missing)
            by_holder: dict[Holder, list[int]] = {}
            for number in missing:
                by_holder.setdefault(self._holders[number], []).append(number)
            asked = [(holder, own, holder.ask(method, own, *arguments)) for holder, own in by_holder.items()]
            for holder, own, answer in asked:
                try:
                    found |= zip(own, answer(), strict=True)
                except WorkerLostError:
                    self._forget(holder)
        return [found[number] for number in range(self._spans.count)]

    def _place(self, numbers: Sequence[int]) -> None:
        """Give every one of these partitions a holder; one partition a holder is on its way at a time."""
        while homeless := [number for number in numbers if number not in self._holders]:
            shares = self._shares(homeless)
            for wave in zip_longest(*shares.values()):
                sent = [
                    (holder, number, holder.ask("hold", number, self._part(number), self._passed))
                    for holder, number in zip(shares, wave, strict=True)
                    if number is not None
                ]
                for holder, number, answer in sent:
                    try:
                        answer()
                        self._holders[number] = holder
                    except WorkerLostError:
                        self._forget(holder)

    def _part(self, number: int) -> Likelihood:
        return self._spans.part(self._likelihood, number)

    def _shares(self, homeless: Sequence[int]) -> dict[Holder, list[int]]:
        """Partitions by the holder that shall take them, so that holders have about equally many."""
        there = {} if self._losses > MOST_LOSSES else self._workers.awaited()
        for address in there.keys() - self._actors.keys():
            self._actors[address] = self._workers.actor(address)
        holders: list[Holder] = [self._actors[address] for address in there] or [self._here]
        load = Counter(self._holders.values())
        shares: dict[Holder, list[int]] = {holder: [] for holder in holders}
        for number in homeless:
            holder = min(holders, key=lambda one: load[one])
            load[holder] += 1
            shares[holder].append(number)
        return shares

    def _forget(self, holder: Holder) -> None:
        """Let go of a lost worker's actor and of all that it held."""
        known = [address for address, actor in self._actors.items() if actor is holder]
        for address in known:
            del self._actors[address]
            self._losses += 1
            self._workers.forget(address)
        self._holders = {number: own for number, own in self._holders.items() if own is not holder}
