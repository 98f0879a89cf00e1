"""Synonyms of headers: for each column of the contract, what shops write above it, and how a header is looked up."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from draincurve.pipeline.reading.cleaning.foreign_headers import LANGUAGES, NUMBER_WORDS, SMALL_WORDS
from draincurve.pipeline.reading.cleaning.further_headers import FURTHER_LANGUAGES
from draincurve.pipeline.reading.cleaning.hours_headers import hours_columns
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES

_UNIT_IDS = (
    "unit, unit no, unit number, unit name, unit code, fork, fork leg, leg, shock, damper, cartridge, component, "
    "component id, suspension unit, id"
)
_OIL = "grade, oil, oil type, oil used, oil name, fork oil, oil weight, oil wt, oil viscosity"
_SPRING = "spring, springs, spring kind, spring fitted, type of spring, spring rate"
_RIDER = "ridden by, driver, rider name, pilot"
_MACHINE = "bike, motorcycle, motorbike, machine no, bike no"
_SITE = "base, workshop, location, depot, shop"
_UNIT_KIND = "kind of unit, unit type, type of unit, model, unit model, make and model"
_NOTE = "notes, remark, remarks, comment, comments, notes parts, remarks parts, comments parts"
_DATE = "day, on, dated"
_HOURS = "hrs, h, time, ride time, riding time, ride hours, ridden, hours ridden, run time"

_DRAIN_HOURS = (
    "hours, hrs, h, oil hrs, oil h, oil time, hours on oil, hrs on oil, h on oil, ride time, ride hours, ride hrs, "
    "riding time, riding hours, run time, hours run, hours ridden, fill hours, hours since oil, "
    "hours since oil change, hours since change, hours since drain, hrs since change, hours since last change, "
    "since last oil, since oil, since last oil change, since last change, since last drain"
)

_SYNONYMS: dict[str, dict[str, str]] = {
    "drains": {
        "unit_id": _UNIT_IDS,
        "drained_on": "date, drain date, date drained, date of drain, service date, date of service, serviced on, "
        "serviced, oil change date, date of oil change, date of change, change date, changed on, changed, day, when",
        "oil_hours": _DRAIN_HOURS,
        "meter_hours": "meter, metre, hour meter, hourmeter, hour metre, meter reading, meter hrs, "
        "hour meter reading, clock, clock hours",
        "oil_grade": _OIL,
        "filled_ml": "filled, fill, fill volume, filled volume, volume filled, oil in, volume in, poured in, put in",
        "drained_ml": "drained, drain, drain volume, drained volume, volume drained, oil out, volume out, came out, "
        "recovered",
        "settle_hours": "settle, settled, settling, settling time, settle time, settling hours, stood, stood for, "
        "standing time, rest time, rested",
        **{channel.rating: f"{channel.name}, {channel.headers}" for channel in CHANNELS},
        "spring_type": _SPRING,
        "spring_hours": "hours on spring, hrs on spring, h on spring, spring age, spring hrs, spring h, spring time",
        "rider": _RIDER,
        "rated_by": "rater, rated, looked at by, inspected by, checked by, inspector, technician, tech, mechanic, "
        "initials, by, who rated",
        "surface": "terrain, ground, track surface, soil",
        "site": _SITE,
        "machine": _MACHINE,
        "chamber": "oil chamber, which chamber",
        "drain_method": "method, drain by, how drained, way of draining",
        "service_kind": "service, kind, service type, kind of service, type of service, job",
        "new_parts": "parts, parts fitted, fitted, replaced, parts replaced, renewed",
        "note": _NOTE,
        "milky": "water, water in oil, milk, emulsion",
        "burnt": "burnt smell, burned, burned smell, smell, smells burnt, smell burnt",
        "leak": "leaks, leaking, leaked, weeping, seal leak, wet seal",
        "confirmed": "confirm, looked again, right as typed, is right",
    },
    "units": {
        "unit_id": _UNIT_IDS,
        "machine": _MACHINE,
        "position": "side, end, front or rear, place",
        "unit_kind": _UNIT_KIND,
        "site": _SITE,
        "fill_ml": "fill, fill volume, oil volume, volume, specified volume, specified fill, capacity",
        "spring_type": _SPRING,
        "oil_grade": _OIL,
        "rider": _RIDER,
        "max_interval_h": "max interval, maximum interval, longest interval, maker limit, makers limit, max hours, "
        "maximum hours, limit hours, interval limit, limit, limit h",
        "max_oil_days": "max days, maximum days, max oil age, maximum oil age, oil age limit, longest oil age",
        "in_service": "in use, active, service, running, ridden now",
    },
    "usage": {"unit_id": _UNIT_IDS, "site": _SITE, "date": f"{_DATE}, ridden on, ride date", "hours": _HOURS},
    "bookings": {
        "unit_id": _UNIT_IDS,
        "site": _SITE,
        "date": f"{_DATE}, event date, booked for, booked on",
        "hours": f"{_HOURS}, planned, hours planned, planned hours, expected hours",
        "event": "event name, name, race, meeting, booking, what",
    },
    "oils": {
        "oil_grade": _OIL,
        "kv40": "viscosity at 40, viscosity 40, viscosity at 40 c, kinematic viscosity at 40, kv 40 c, kv at 40, v40",
        "kv100": "viscosity at 100, viscosity 100, viscosity at 100 c, kinematic viscosity at 100, kv 100 c, "
        "kv at 100, v100",
        "note": _NOTE,
    },
    "measurements": {
        "unit_id": _UNIT_IDS,
        "measured_on": "date, measured, day, date measured, measuring date, sample date, sampled on, sampled, "
        "date sampled, sampling date, date taken, taken on",
        "quantity": "what, measured quantity, channel, kind, measurement",
        "value": "reading, result, measured value",
        "unit": "units, unit of measure, measured in",
        "component_hours": "hours, hrs, part hours, hours on part, component hrs, hours on oil, oil hours, "
        "hrs on oil, oil hrs, fluid hours, time on oil",
        "rebuilt_on": "rebuilt, rebuild date, date of rebuild, last rebuild, new on, fitted on",
        "site": _SITE,
    },
    "parts": {
        "unit_id": _UNIT_IDS,
        "unit_kind": _UNIT_KIND,
        "part": "part name, name of the part, wear part",
        "fitted_on": "fitted, date fitted, fitting date, installed on, renewed on",
        "fitted_at_h": "hours when fitted, hours at fitting, fitted at, fitted at hours, used hours",
        "max_hours": "maximum hours, life hours, hours limit, limit hours, replace after hours, life",
        "max_days": "maximum days, life days, days limit, replace after days",
        "quantity": "measured quantity, measured by",
        "wear_limit": "limit of wear, wear limit value, service limit",
        "site": _SITE,
        "note": _NOTE,
    },
}


def header_words(text: str) -> list[str]:
    """The words of a header in lower case, without accents and punctuation."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(mark for mark in letters if not unicodedata.combining(mark))
    return re.findall(r"[^\W_]+", plain)


def squashed_header(text: str) -> str:
    """A header in lower case, without accents, spaces and punctuation."""
    return "".join(header_words(text))


def columns_of_header(text: str, table: str) -> tuple[str, ...]:
    """The columns that a header without unit may mean: none where it is not known, several where it means several.

    Articles, prepositions and words such as "no." may be there or not, and words may come in any order. Hours on
    something are understood by the kinds of their words.
    """
    squashed = squashed_header(text)
    if squashed in COLUMNS_OF_HEADER[table]:
        return COLUMNS_OF_HEADER[table][squashed]
    words = header_words(text)
    important = _without(words, _SMALL)
    columns = _COLUMNS_OF_WORDS[table].get(important, ())
    columns = columns or _COLUMNS_OF_WORDS[table].get(_without(words, _SMALL | _NUMBERS), ())
    return columns or hours_columns(important, table)


_SMALL, _NUMBERS = frozenset(SMALL_WORDS.split()), frozenset(NUMBER_WORDS.split())


def _without(words: list[str], dropped: frozenset[str]) -> tuple[str, ...]:
    return tuple(sorted(word for word in words if word not in dropped))


def synonyms(table: str) -> Iterator[tuple[str, str]]:
    """Every column of a table with each of its synonyms, in English first."""
    for column, words in _SYNONYMS[table].items():
        yield from ((column, word.strip()) for word in words.split(","))
    for language in (*LANGUAGES, *FURTHER_LANGUAGES):
        for known in TABLES[table]:
            yield from ((known.name, word.strip()) for word in language.get(known.name, "").split(",") if word)


def _columns_by(table: str) -> tuple[dict[str, tuple[str, ...]], dict[tuple[str, ...], tuple[str, ...]]]:
    """The columns of each squashed header, and of each set of words.

    The contract's own names mean nothing else, nor do those of the rated channels.
    """
    squashed: dict[str, tuple[str, ...]] = {}
    by_words: dict[tuple[str, ...], tuple[str, ...]] = {}
    contract_names = {squashed_header(column.name): (column.name,) for column in TABLES[table]}
    if table == "drains":
        contract_names |= {squashed_header(channel.name): (channel.rating,) for channel in CHANNELS}
    for column, word in synonyms(table):
        key = squashed_header(word)
        squashed[key] = tuple(dict.fromkeys((*squashed.get(key, ()), column)))
        bag = _without(header_words(word), _SMALL)
        if bag and key not in contract_names:
            by_words[bag] = tuple(dict.fromkeys((*by_words.get(bag, ()), column)))
    return squashed | contract_names, by_words


_LOOKUPS = {table: _columns_by(table) for table in TABLES}
COLUMNS_OF_HEADER: dict[str, dict[str, tuple[str, ...]]] = {table: found[0] for table, found in _LOOKUPS.items()}
"""For each table: the contract's columns of each squashed header."""
_COLUMNS_OF_WORDS = {table: found[1] for table, found in _LOOKUPS.items()}
