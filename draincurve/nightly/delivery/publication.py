"""Writes the answers of the nights into the shop's database: each night whole, retried where that can help."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import partial
from typing import Final

from draincurve.nightly.delivery.delivery_record import DeliveryRecord, SendingState
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome
from draincurve.nightly.delivery.published_tables import HISTORY, KeptNight, in_history, write_answers, write_history
from draincurve.nightly.delivery.retrying import PermanentError, TransientError, with_retries
from draincurve.nightly.delivery.timed_attempt import OverdueError, TimedAttempt
from draincurve.pipeline.reading.sources import server_of, session_with, source_address
from draincurve.reports.content.wording import counted
from draincurve.schemas.delivery_settings import PublishSettings
from draincurve.schemas.errors import SourceError, TransientSourceError, file_fault_line

WAY: Final = "publish"


@dataclass(frozen=True, slots=True)
class Publication:
    """The nights whose reports are kept, the last one last, and the settings that say where they go."""

    settings: PublishSettings
    nights: tuple[KeptNight, ...] = ()

    def once(self, seconds: float, context: DeliveryContext) -> str:
        """Write them; return what was done. Raises TransientError or PermanentError."""
        attempt = TimedAttempt(seconds)
        try:
            return attempt.run(lambda attempt: self._written(attempt, context))
        except (SourceError, OverdueError) as fault:
            if attempt.overdue:
                raise TransientError(f"the database does not answer within {seconds:.3g} s") from None
            kind = TransientError if isinstance(fault, TransientSourceError) else PermanentError
            raise kind(str(fault)) from None
        except OSError as fault:
            raise PermanentError(file_fault_line(fault)) from None

    def _written(self, attempt: TimedAttempt, context: DeliveryContext) -> str:
        """What was done; runs in the thread of the attempt, whose end closes the connection.

        The last night is one transaction. Earlier ones are one each, so that an attempt that is cut off keeps them.
        """
        schema = self.settings.schema
        server = server_of(source_address(self.settings.address or "").location, context.environment)
        begin = partial(session_with, server, writes=True, opened=attempt.hold)
        *earlier, last = self.nights
        with begin() as session:
            units, nights = write_answers(session, schema, last), int(write_history(session, schema, last))
            available = [night for night in earlier if night.table.is_file()]
            missing = [night for night in available if not in_history(session, schema, night)]
        for night in missing:
            with begin() as session:
                nights += write_history(session, schema, night)
        return (
            f"{counted(units, 'unit')} written to {schema} in {server.label}; {counted(nights, 'night')} added to "
            f"{HISTORY}"
        )


def deliver_publication(
    publication: Publication, *, context: DeliveryContext, record: DeliveryRecord
) -> DeliveryOutcome | None:
    """Write the last night and those that the database lacks; None where the last one has been written there.

    An attempt that is cut off may have been committed. It is repeated, which then changes nothing.
    """
    settings = publication.settings
    receiver = hashlib.sha256(f"{settings.address}\x1f{settings.schema}".encode()).hexdigest()[:16]
    if receiver in record.states(WAY):
        return None
    delivered, tries, message = with_retries(
        lambda seconds: publication.once(seconds, context),
        settings.tries,
        timeout_s=settings.timeout_s,
        first_wait_s=settings.first_wait_s,
        context=context,
    )
    if delivered:
        record.write(WAY, [receiver], state=SendingState.SENT)
    return DeliveryOutcome(WAY, delivered, tries, message)
