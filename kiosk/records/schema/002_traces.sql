-- Traces of the gauges.  The rules stand at the head of 001_cycles.sql.
-- A second of samples is a row of tail; about 600 samples of one channel become one chunk, in the
-- same transaction as their share of the pyramid, and leave the tail.  Counts are 0.01 kPa.
-- tail is short and has no index: it is what is written every second, all year.

CREATE TABLE tail (
    number    INTEGER PRIMARY KEY,
    channel   TEXT NOT NULL,
    from_ms   INTEGER NOT NULL,
    to_ms     INTEGER NOT NULL,
    n         INTEGER NOT NULL,      -- samples, valid or not
    data      BLOB NOT NULL          -- kiosk/records/traces.py
) STRICT;

CREATE TABLE chunk (                 -- chained like events; rows are only ever added
    number    INTEGER PRIMARY KEY AUTOINCREMENT,
    channel   TEXT NOT NULL,
    from_ms   INTEGER NOT NULL,
    to_ms     INTEGER NOT NULL,
    n         INTEGER NOT NULL,
    data      BLOB NOT NULL,
    previous  BLOB NOT NULL,
    hash      BLOB NOT NULL
) STRICT;

CREATE INDEX chunk_of_time ON chunk (channel, from_ms);

CREATE TABLE pyramid (               -- least, sum and most of the valid samples of one bucket
    channel   TEXT NOT NULL,
    length_ms INTEGER NOT NULL,      -- 60000, 3600000 or 86400000
    from_ms   INTEGER NOT NULL,      -- a multiple of length_ms
    n         INTEGER NOT NULL,      -- valid samples
    missing   INTEGER NOT NULL,      -- samples without a valid value
    low       INTEGER,               -- counts; NULL when n is 0
    high      INTEGER,
    total     INTEGER NOT NULL,
    PRIMARY KEY (channel, length_ms, from_ms)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER chunk_is_kept_as_written BEFORE UPDATE ON chunk
BEGIN SELECT RAISE(ABORT, 'a chunk is never changed'); END;
CREATE TRIGGER chunk_is_kept BEFORE DELETE ON chunk
BEGIN SELECT RAISE(ABORT, 'a chunk is never deleted'); END;
