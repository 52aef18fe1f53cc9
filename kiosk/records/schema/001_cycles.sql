-- Rules of these files.
-- 1. One file a version, NNN_name.sql, applied in order, each in one transaction that also sets
--    PRAGMA user_version.  The version of a log is the number of the last file it was given.
-- 2. A file that was ever released is never edited: a change is a new file.
-- 3. A migration keeps every row and never touches a column that a hash covers
--    (event, plan, cycle, chunk: see kiosk/records/chain.py).
-- 4. Tables are STRICT.  Unknown is NULL, never 0 or ''.
-- 5. Units end the name.  at_ms and *_ms are milliseconds on the axis of the log: the monotonic
--    clock of the machine plus run.offset_ms, so they order records and give ages whatever the
--    wall clock did.  utc is a label for people (RFC 3339, UTC).  Pressures are kPa below local
--    atmosphere.
-- 6. data, alarms and json hold JSON text; a hash is 32 bytes of SHA-256.

CREATE TABLE run (                  -- one row for each time a writer opened this file
    number       INTEGER PRIMARY KEY,
    epoch        TEXT NOT NULL,     -- the guard's epoch
    boot_id      TEXT NOT NULL,     -- the computer's boot; monotonic times of one boot compare
    offset_ms    INTEGER NOT NULL,  -- axis of the log minus monotonic clock
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL,
    library      TEXT NOT NULL      -- version of SQLite
) STRICT;

CREATE TABLE heartbeat (            -- one row, written again every 10 s, or every second without samples
    id           INTEGER PRIMARY KEY CHECK (id = 1),
    run          INTEGER NOT NULL,
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL
) STRICT;

CREATE TABLE event (                -- the chained record; rows are only ever added
    number       INTEGER PRIMARY KEY AUTOINCREMENT,
    run          INTEGER NOT NULL,
    note         INTEGER,           -- number of the note within its run; NULL for the log's own
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL,
    cycle        TEXT,              -- id of the cycle it belongs to
    kind         TEXT NOT NULL,
    data         TEXT NOT NULL,
    previous     BLOB NOT NULL,     -- hash of the event before it; 32 zero bytes for the first
    hash         BLOB NOT NULL,
    UNIQUE (run, note)
) STRICT;

CREATE INDEX event_of_cycle ON event (cycle, number);
CREATE INDEX event_of_kind ON event (kind, number);
CREATE INDEX event_of_latch ON event (number) WHERE kind = 'state' AND (
    json_extract(data, '$.to') IN ('HOLD LOST', 'NO PERMIT')
    OR json_extract(data, '$.from') IN ('HOLD LOST', 'NO PERMIT'));

CREATE TABLE plan (                 -- plans as they were adopted; sha256 is in the event chain
    digest       TEXT PRIMARY KEY,
    job_id       TEXT,
    title        TEXT,
    revision     TEXT,
    site_digest  TEXT,
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL,
    json         TEXT NOT NULL,
    sha256       BLOB NOT NULL      -- of json
) STRICT;

CREATE TABLE cycle (                -- one row a cycle; sealed when it closes, then never changed
    number           INTEGER PRIMARY KEY AUTOINCREMENT,
    id               TEXT NOT NULL UNIQUE,
    run              INTEGER NOT NULL,
    plan             TEXT,          -- digest
    opened_ms        INTEGER NOT NULL,
    opened_utc       TEXT NOT NULL,
    opened_event     INTEGER NOT NULL,
    closed_ms        INTEGER,
    closed_utc       TEXT,
    closed_event     INTEGER,
    result           TEXT,
    minimum_kpa      REAL,
    start_kpa        REAL,
    start_vacuum_kpa REAL,
    lowest_ratio     REAL,
    lowest_vacuum_kpa REAL,
    cutting_s        REAL,
    alarms           TEXT,
    seal             BLOB           -- hash over the closing event's hash and this row
) STRICT;

CREATE INDEX cycle_of_time ON cycle (opened_ms);

CREATE TRIGGER event_is_kept_as_written BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER event_is_kept BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never deleted'); END;
CREATE TRIGGER plan_is_kept_as_written BEFORE UPDATE ON plan
BEGIN SELECT RAISE(ABORT, 'a plan is never changed'); END;
CREATE TRIGGER plan_is_kept BEFORE DELETE ON plan
BEGIN SELECT RAISE(ABORT, 'a plan is never deleted'); END;
CREATE TRIGGER cycle_is_sealed BEFORE UPDATE ON cycle WHEN OLD.seal IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a closed cycle is never changed'); END;
CREATE TRIGGER cycle_is_kept BEFORE DELETE ON cycle
BEGIN SELECT RAISE(ABORT, 'a cycle is never deleted'); END;
