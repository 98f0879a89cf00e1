"""The schema of the ledger, version by version."""

from __future__ import annotations

APPLICATION = 0x6472636C
"""Identifies the file as a ledger of this program (PRAGMA application_id)."""

MIGRATIONS = (
    """
    CREATE TABLE runs (
        run_id INTEGER PRIMARY KEY, started TEXT NOT NULL, zone TEXT NOT NULL, clock_day TEXT NOT NULL, ended TEXT,
        status TEXT NOT NULL, as_of TEXT, digest TEXT, folder TEXT, exit_status INTEGER, delivered INTEGER NOT NULL
        DEFAULT 0, settings TEXT, versions TEXT, timings TEXT, warnings TEXT, message TEXT NOT NULL DEFAULT ''
    ) STRICT;
    CREATE TABLE tables (
        run_id INTEGER NOT NULL REFERENCES runs, "table" TEXT NOT NULL, source TEXT NOT NULL, sha256 TEXT NOT NULL,
        read INTEGER NOT NULL, accepted INTEGER NOT NULL, held_back INTEGER NOT NULL, PRIMARY KEY (run_id, "table")
    ) STRICT;
    CREATE TABLE units (
        run_id INTEGER NOT NULL REFERENCES runs, unit_id TEXT NOT NULL, site TEXT, drains INTEGER NOT NULL,
        hours_on_oil REAL, interval_h REAL, interval_low_h REAL, interval_high_h REAL, set_by TEXT, hours_left REAL,
        due_on TEXT, due_before TEXT, risk_now REAL, hours_ratio REAL, standing TEXT NOT NULL, turned INTEGER
    ) STRICT;
    CREATE INDEX units_by_name ON units (unit_id, run_id);
    CREATE INDEX units_by_run ON units (run_id);
    CREATE TABLE signs (
        run_id INTEGER NOT NULL REFERENCES runs, unit_id TEXT NOT NULL, site TEXT, signs TEXT NOT NULL
    ) STRICT;
    CREATE TABLE held_back (
        run_id INTEGER NOT NULL REFERENCES runs, "table" TEXT NOT NULL, source TEXT NOT NULL, line INTEGER NOT NULL,
        "column" TEXT, value TEXT, reason TEXT NOT NULL, "row" TEXT NOT NULL
    ) STRICT;
    CREATE INDEX held_back_by_run ON held_back (run_id);
    CREATE TABLE deliveries (
        run_id INTEGER NOT NULL REFERENCES runs, way TEXT NOT NULL, delivered INTEGER NOT NULL,
        tries INTEGER NOT NULL, said TEXT NOT NULL
    ) STRICT;
    """,
    """
    CREATE TABLE letters (
        run_id INTEGER PRIMARY KEY REFERENCES runs, name TEXT NOT NULL, started TEXT NOT NULL, subject TEXT NOT NULL,
        text TEXT NOT NULL, html TEXT NOT NULL, body TEXT NOT NULL
    ) STRICT;
    CREATE TABLE sendings (
        digest TEXT NOT NULL, way TEXT NOT NULL, receiver TEXT NOT NULL, state TEXT NOT NULL, at TEXT NOT NULL,
        PRIMARY KEY (digest, way, receiver)
    ) STRICT;
    INSERT INTO sendings
        SELECT DISTINCT digest, way, '*', 'sent', coalesce(ended, started) FROM deliveries JOIN runs USING (run_id)
        WHERE deliveries.delivered AND way != 'metrics' GROUP BY digest, way;
    ALTER TABLE runs DROP COLUMN delivered
    """,
    """
    CREATE TABLE wear (
        run_id INTEGER NOT NULL REFERENCES runs, unit_id TEXT NOT NULL, site TEXT, quantity TEXT NOT NULL,
        unit TEXT NOT NULL, clock TEXT NOT NULL, "limit" TEXT, last_value REAL, last_bound TEXT, last_on TEXT,
        past_limit INTEGER NOT NULL, clock_now REAL, meets_low_h REAL, meets_h REAL, meets_high_h REAL, allowed_h REAL
    ) STRICT;
    CREATE INDEX wear_by_name ON wear (unit_id, run_id);
    CREATE TABLE parts (
        run_id INTEGER NOT NULL REFERENCES runs, unit_id TEXT NOT NULL, site TEXT, part TEXT NOT NULL, hours_now REAL,
        hours_left REAL, set_by TEXT, due_on TEXT, due_on_early TEXT, due_on_late TEXT, due_before TEXT, visit_on TEXT
    ) STRICT;
    CREATE INDEX parts_by_name ON parts (unit_id, run_id)
    """,
)
"""One script for each version of the schema, each from the one before (PRAGMA user_version)."""
