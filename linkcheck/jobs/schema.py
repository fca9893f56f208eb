"""The tables of the store, version by version, as SQL; `migrations` brings a file from one to the next.

`jobs` and `events` are the record: triggers refuse every change but adding at the end. `summaries` is only an index of
it for the list and the search, rewritten freely and rebuilt from the events at any time.
"""

from __future__ import annotations

__all__ = ["APPLICATION_ID", "TABLES_1", "TABLES_2", "VERSION"]

APPLICATION_ID = 0x4C434A42  # "LCJB", in the file's header: sqlite.org/fileformat2.html, 1.3
VERSION = 2

TABLES_1 = """
CREATE TABLE jobs (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE
) STRICT;
CREATE TABLE events (
    job INTEGER NOT NULL REFERENCES jobs (id),
    n INTEGER NOT NULL,
    at TEXT NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (job, n)
) STRICT;
"""

# Version 2: a note on any entry, its kind as a column, nothing rewritten by force, and an index for the search.
TABLES_2 = """
ALTER TABLE events ADD COLUMN kind TEXT NOT NULL DEFAULT '';
ALTER TABLE events ADD COLUMN note TEXT NOT NULL DEFAULT '';
UPDATE events SET kind = json_extract(body, '$.type');
CREATE TABLE summaries (
    job INTEGER PRIMARY KEY REFERENCES jobs (id),
    body TEXT NOT NULL,
    words TEXT NOT NULL,
    changed_at TEXT NOT NULL,
    deleted INTEGER NOT NULL
) STRICT;
CREATE INDEX summaries_changed ON summaries (changed_at);
CREATE TRIGGER jobs_stay BEFORE UPDATE ON jobs
    BEGIN SELECT RAISE(ABORT, 'jobs are never rewritten'); END;
CREATE TRIGGER jobs_are_kept BEFORE DELETE ON jobs
    BEGIN SELECT RAISE(ABORT, 'jobs are never removed'); END;
CREATE TRIGGER events_stay BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never rewritten'); END;
CREATE TRIGGER events_are_kept BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never removed'); END;
CREATE TRIGGER events_in_order BEFORE INSERT ON events
    WHEN NEW.n <> 1 + (SELECT COALESCE(MAX(n), 0) FROM events WHERE job = NEW.job)
    BEGIN SELECT RAISE(ABORT, 'entries are added at the end'); END;
"""
