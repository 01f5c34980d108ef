-- The floor log. Rows are only ever added: triggers below refuse the rest.
-- SI throughout, the unit at the end of each name; times are milliseconds since 1970, UTC.

CREATE TABLE session (
    id INTEGER PRIMARY KEY,
    started_utc_ms INTEGER NOT NULL,
    name TEXT NOT NULL
) STRICT;

CREATE TABLE session_remark (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES session (id),
    written_utc_ms INTEGER NOT NULL,
    remark TEXT NOT NULL
) STRICT;

CREATE TABLE shot (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES session (id),
    thrown_utc_ms INTEGER NOT NULL,
    -- 0 where a table did not say when: the time is then that of the import.
    time_known INTEGER NOT NULL CHECK (time_known IN (0, 1)),
    -- How it came here: typed, table, or another way.
    source TEXT NOT NULL
) STRICT;

-- What is held about a shot. The highest number of a shot counts; the others are its history.
CREATE TABLE shot_version (
    id INTEGER PRIMARY KEY,
    shot_id INTEGER NOT NULL REFERENCES shot (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    -- Versions written by one command share an act; undo goes act by act.
    act INTEGER NOT NULL,
    undoes_act INTEGER,
    written_utc_ms INTEGER NOT NULL,
    done TEXT NOT NULL,
    words TEXT NOT NULL,
    taken_back INTEGER NOT NULL CHECK (taken_back IN (0, 1)),
    left_out_because TEXT,
    spot TEXT NOT NULL,
    distance_m REAL NOT NULL,
    offset_m REAL NOT NULL,
    turned_rad REAL NOT NULL,
    slide_m REAL NOT NULL,
    tilt_rad REAL NOT NULL,
    reach_m REAL NOT NULL,
    setpoint_radps REAL NOT NULL,
    before_radps REAL,
    after_radps REAL,
    battery_v REAL,
    piece INTEGER CHECK (piece >= 0),
    place INTEGER NOT NULL CHECK (place >= 1),
    volley_count INTEGER CHECK (volley_count >= 1),
    landing_along_m REAL,
    landing_across_m REAL,
    landing_height_m REAL,
    wall_distance_m REAL,
    wall_height_m REAL,
    fall_s REAL,
    fall_height_m REAL,
    miss_along_m REAL,
    miss_across_m REAL,
    outcome TEXT CHECK (outcome IN ('in', 'rim', 'short', 'long', 'left', 'right', 'under', 'none')),
    exit_speed_mps REAL,
    exit_angle_rad REAL,
    jammed INTEGER NOT NULL CHECK (jammed IN (0, 1)),
    note TEXT NOT NULL,
    UNIQUE (shot_id, number)
) STRICT;

CREATE INDEX shot_version_act ON shot_version (act);
CREATE INDEX shot_thrown ON shot (thrown_utc_ms);

-- The present state of every shot, for whoever looks with another program.
CREATE VIEW shot_now AS
SELECT s.session_id, s.thrown_utc_ms, v.*
FROM shot s JOIN shot_version v ON v.shot_id = s.id
WHERE v.number = (SELECT max(number) FROM shot_version WHERE shot_id = s.id);

CREATE TRIGGER session_stays BEFORE UPDATE ON session BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER session_kept BEFORE DELETE ON session BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER session_remark_stays BEFORE UPDATE ON session_remark BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER session_remark_kept BEFORE DELETE ON session_remark BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER shot_stays BEFORE UPDATE ON shot BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER shot_kept BEFORE DELETE ON shot BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER shot_version_stays BEFORE UPDATE ON shot_version BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER shot_version_kept BEFORE DELETE ON shot_version BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
