"""What to drain next, as the decide stage hands it to the reports."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NextSample:
    """One drain worth having.

    at_hours [h]; past_accepted_risk : whether the chance of oil past fit is then over what is accepted;
    narrower : sd of the log interval after over before, the drains above it in the list done; of : whose interval
    that is, `fleet` or `unit`; why : plain sentences
    """

    unit_id: str
    site: str | None
    channel: str
    at_hours: float
    past_accepted_risk: bool
    narrower: float
    of: str
    why: str
