-- A log of version 1 as it was stored: schema and rows.  Never made again.
PRAGMA application_id = 1212957776;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
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
INSERT INTO "cycle" VALUES(1,'c-1',1,'d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1',1795597200600,'2026-11-25T09:00:00.000Z',7,1795597201400,'2026-11-25T09:00:00.000Z',15,'done',42.0,50.3,61.5,1.05,46.1,312.0,'["A05","A06"]',X'6A8E27CB655F4F01D9A740FB1BA33013C8970F0B0B94CC11CA3DFAE5DF40844B');
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
INSERT INTO "event" VALUES(1,1,NULL,1795597200000,'2026-11-25T09:00:00.000Z',NULL,'log','{"boot_id":"boot-1","change":"opened","epoch":"epoch-1","library":"3.40.1","offset_ms":1795597199000,"put_aside":null}',X'0000000000000000000000000000000000000000000000000000000000000000',X'47C333BBBF6462F31DB435C7EE316B1792CC127A16619F68355E3A6F35EE6B40');
INSERT INTO "event" VALUES(2,1,NULL,1795597200000,'2026-11-25T09:00:00.000Z',NULL,'log','{"change":"plan_kept","digest":"d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1","sha256":"cbe49ae106a80dc601b78b98eb594b9cab787c380a290449c01f474eeff11670"}',X'47C333BBBF6462F31DB435C7EE316B1792CC127A16619F68355E3A6F35EE6B40',X'C30A6F137F8597A1436D87B55E45A6AD696A9B6F7B583F67D9DD3D33E5295472');
INSERT INTO "event" VALUES(3,1,2,1795597200200,'2026-11-25T09:00:00.000Z',NULL,'state','{"event":"plan_adopted","from":"SELECT JOB","to":"SET UP"}',X'C30A6F137F8597A1436D87B55E45A6AD696A9B6F7B583F67D9DD3D33E5295472',X'4A328BD8D0FDA81C9F2CEFA75A83E964B284C14EC47F5D377307AAAD54AF6AF6');
INSERT INTO "event" VALUES(4,1,3,1795597200300,'2026-11-25T09:00:00.000Z',NULL,'plan','{"change":"adopted","digest":"d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1","job_id":"SR-210","words":""}',X'4A328BD8D0FDA81C9F2CEFA75A83E964B284C14EC47F5D377307AAAD54AF6AF6',X'11C5D82C4880CE4EEA81443EAB8ADFBE83F0ECC7295C0B83EB5588012E3D9ABD');
INSERT INTO "event" VALUES(5,1,4,1795597200400,'2026-11-25T09:00:00.000Z',NULL,'confirm','{"down":["A3"],"up":["A1","A2"],"warnings":[],"what":"zone","zone":"A"}',X'11C5D82C4880CE4EEA81443EAB8ADFBE83F0ECC7295C0B83EB5588012E3D9ABD',X'7312D215E3FA65193A0A81B53B48E4D394EF5038E0C9DC1BBA063500E71FB479');
INSERT INTO "event" VALUES(6,1,5,1795597200500,'2026-11-25T09:00:00.000Z',NULL,'confirm','{"down":["B3"],"up":["B1","B2"],"warnings":[],"what":"zone","zone":"B"}',X'7312D215E3FA65193A0A81B53B48E4D394EF5038E0C9DC1BBA063500E71FB479',X'13CC02B50E437EC392D90ED8CE73C4BBB55AB08995FF26FE46C9FC1A0546E861');
INSERT INTO "event" VALUES(7,1,6,1795597200600,'2026-11-25T09:00:00.000Z','c-1','cycle','{"change":"opened","result":null}',X'13CC02B50E437EC392D90ED8CE73C4BBB55AB08995FF26FE46C9FC1A0546E861',X'1C4CF2AC28151B4D1757B3F9D675645E44A69E9DB5C8E050599E817CA4A7A50A');
INSERT INTO "event" VALUES(8,1,7,1795597200700,'2026-11-25T09:00:00.000Z','c-1','confirm','{"down":[],"up":[],"warnings":["loose_offcut"],"what":"part","zone":null}',X'1C4CF2AC28151B4D1757B3F9D675645E44A69E9DB5C8E050599E817CA4A7A50A',X'02062CED9DF27A301A95F2DF4B5C4A341F7D893D9FCEE327B976811F1833F6F8');
INSERT INTO "event" VALUES(9,1,8,1795597200800,'2026-11-25T09:00:00.000Z','c-1','state','{"event":"requested","from":"READY","to":"PERMIT"}',X'02062CED9DF27A301A95F2DF4B5C4A341F7D893D9FCEE327B976811F1833F6F8',X'14AAD4923E810D573BCCA339D061F94C08EC5D1D134091A35291AF9F4A3ABCF6');
INSERT INTO "event" VALUES(10,1,9,1795597200900,'2026-11-25T09:00:00.000Z','c-1','output','{"hold_healthy":true,"start_permit":true}',X'14AAD4923E810D573BCCA339D061F94C08EC5D1D134091A35291AF9F4A3ABCF6',X'E45265C3E8D641E469E23561E3C3F19BD01DA4B92DF72F42851E8CA48B304BD3');
INSERT INTO "event" VALUES(11,1,10,1795597201000,'2026-11-25T09:00:00.000Z','c-1','state','{"event":"cycle_started","from":"PERMIT","to":"CUTTING"}',X'E45265C3E8D641E469E23561E3C3F19BD01DA4B92DF72F42851E8CA48B304BD3',X'E079A17001D8A31D594AE77244AACACF8917B7351BE278D352AAFA0C6AC45E24');
INSERT INTO "event" VALUES(12,1,11,1795597201100,'2026-11-25T09:00:00.000Z','c-1','alarm','{"change":"raised","code":"A05","first":true,"limit":1.07,"priority":2,"unit":"","value":1.05}',X'E079A17001D8A31D594AE77244AACACF8917B7351BE278D352AAFA0C6AC45E24',X'17B820C3EE0A7D79254B68EAE07BE92B27B35AB8B8BF4B8C827FC86AA3C2D938');
INSERT INTO "event" VALUES(13,1,12,1795597201200,'2026-11-25T09:00:00.000Z','c-1','alarm','{"change":"raised","code":"A06","first":true,"limit":1.07,"priority":2,"unit":"","value":1.05}',X'17B820C3EE0A7D79254B68EAE07BE92B27B35AB8B8BF4B8C827FC86AA3C2D938',X'8508DA110A5C88EE55AB779660591F8652084CF888B4688363909DCCD98EA6B8');
INSERT INTO "event" VALUES(14,1,13,1795597201300,'2026-11-25T09:00:00.000Z','c-1','alarm','{"change":"cleared","code":"A05","first":true,"limit":1.07,"priority":2,"unit":"","value":1.05}',X'8508DA110A5C88EE55AB779660591F8652084CF888B4688363909DCCD98EA6B8',X'C44693D5C10DB00F104DDB2086386D631C1AD81167C7BB384FAAEB68164DE1F3');
INSERT INTO "event" VALUES(15,1,14,1795597201400,'2026-11-25T09:00:00.000Z','c-1','cycle','{"alarms":["A05","A06"],"change":"closed","cutting_s":312.0,"lowest_ratio":1.05,"lowest_vacuum_kpa":46.1,"minimum_kpa":42.0,"result":"done","start_kpa":50.3,"start_vacuum_kpa":61.5}',X'C44693D5C10DB00F104DDB2086386D631C1AD81167C7BB384FAAEB68164DE1F3',X'44DD7DCD0855188026CEC6EE6797B10D29970099C1EEC8A70D16411CE589727F');
CREATE TABLE heartbeat (            -- one row, written again every 10 s, or every second without samples
    id           INTEGER PRIMARY KEY CHECK (id = 1),
    run          INTEGER NOT NULL,
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL
) STRICT;
INSERT INTO "heartbeat" VALUES(1,1,1795597204000,'2026-11-25T09:00:00.000Z');
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
INSERT INTO "plan" VALUES('d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1','SR-210','Shelf rail, beech','C','5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e',1795597200000,'2026-11-25T09:00:00.000Z','{"format":1,"digest":"d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1d1","site_digest":"5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e","job_id":"SR-210","title":"Shelf rail, beech","revision":"C","job_file":"shelf-rail.job.toml","material":"beech","thickness_mm":22.0,"surface":"clean","verdict":"holds","model_kpa":42.0,"minimum_kpa":42.0,"required_kpa":44.0,"start_kpa":50.3,"predicted_kpa":70.0,"ceiling_kpa":80.0,"air_kpa":100.0,"drop_kpa":1.0,"gauge_error_kpa":1.0,"allowances":[],"governed_by":{"mode":"slip","at_mm":[10.0,20.0,22.0],"tip_mm":[10.0,20.0,-0.5],"force_n":[150.0,0.0,40.0],"torque_nm":0.0,"factor":2.0,"tool":3,"line":148,"minimum_kpa":42.0},"runners_up":[],"load_cases":12,"seats":[{"name":"A1","zone":"A","x_mm":100.0,"y_mm":0.0,"state":"up","why":""},{"name":"A2","zone":"A","x_mm":200.0,"y_mm":0.0,"state":"up","why":""},{"name":"A3","zone":"A","x_mm":300.0,"y_mm":0.0,"state":"down","why":""},{"name":"B1","zone":"B","x_mm":100.0,"y_mm":0.0,"state":"up","why":""},{"name":"B2","zone":"B","x_mm":200.0,"y_mm":0.0,"state":"up","why":""},{"name":"B3","zone":"B","x_mm":300.0,"y_mm":0.0,"state":"down","why":""}],"zones":[{"name":"A","up":["A1","A2"],"down":["A3"]},{"name":"B","up":["B1","B2"],"down":["B3"]}],"outline":[[0.0,0.0],[1.0,0.0],[1.0,1.0]],"openings":[],"keeps":[],"paths":[],"pins":[],"tools":[],"program":null,"flex":null,"findings":[{"code":"loose_offcut","severity":"warning","text":"An offcut comes loose."}],"seat_diameter_mm":82.0,"outer_diameter_mm":72.0,"governed_grid_mm":null,"governed_push":null}',X'CBE49AE106A80DC601B78B98EB594B9CAB787C380A290449C01F474EEFF11670');
CREATE TABLE run (                  -- one row for each time a writer opened this file
    number       INTEGER PRIMARY KEY,
    epoch        TEXT NOT NULL,     -- the guard's epoch
    boot_id      TEXT NOT NULL,     -- the computer's boot; monotonic times of one boot compare
    offset_ms    INTEGER NOT NULL,  -- axis of the log minus monotonic clock
    at_ms        INTEGER NOT NULL,
    utc          TEXT NOT NULL,
    library      TEXT NOT NULL      -- version of SQLite
) STRICT;
INSERT INTO "run" VALUES(1,'epoch-1','boot-1',1795597199000,1795597200000,'2026-11-25T09:00:00.000Z','3.40.1');
CREATE INDEX event_of_cycle ON event (cycle, number);
CREATE INDEX event_of_kind ON event (kind, number);
CREATE INDEX event_of_latch ON event (number) WHERE kind = 'state' AND (
    json_extract(data, '$.to') IN ('HOLD LOST', 'NO PERMIT')
    OR json_extract(data, '$.from') IN ('HOLD LOST', 'NO PERMIT'));
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
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('event',15);
INSERT INTO "sqlite_sequence" VALUES('cycle',1);
COMMIT;
