"""Typed values from what people type: headers, units, spellings, dates, clocks."""
