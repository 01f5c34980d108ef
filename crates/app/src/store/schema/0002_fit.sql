-- What `floor fit` found, kept for the commands that use it. The newest fit counts; the others are history.
-- SI throughout; rows are only ever added.

CREATE TABLE fit (
    id INTEGER PRIMARY KEY,
    made_utc_ms INTEGER NOT NULL,
    -- Version of the program, and of what the numbers below mean.
    tool TEXT NOT NULL,
    meaning INTEGER NOT NULL,
    -- The last act of the log that was seen, and the time of the last shot that took part.
    seen_act INTEGER NOT NULL,
    last_thrown_utc_ms INTEGER NOT NULL,
    shot_count INTEGER NOT NULL,
    session_count INTEGER NOT NULL,
    confident INTEGER NOT NULL CHECK (confident IN (0, 1)),
    why_not TEXT NOT NULL,
    nearest_m REAL NOT NULL,
    farthest_m REAL NOT NULL,
    speed_sd_frac REAL,
    -- Scatter from throw to throw; whether the shots said anything of it.
    speed_scatter_frac REAL NOT NULL,
    speed_scatter_learned INTEGER NOT NULL CHECK (speed_scatter_learned IN (0, 1)),
    angle_scatter_rad REAL NOT NULL,
    angle_scatter_learned INTEGER NOT NULL CHECK (angle_scatter_learned IN (0, 1)),
    aside_scatter_rad REAL NOT NULL,
    aside_scatter_learned INTEGER NOT NULL CHECK (aside_scatter_learned IN (0, 1)),
    piece_frac REAL NOT NULL,
    place_frac REAL,
    last_frac REAL,
    wheel_measured INTEGER NOT NULL CHECK (wheel_measured IN (0, 1))
) STRICT;

-- The values of the project file that the fit rests on.
CREATE TABLE fit_project (
    fit_id INTEGER NOT NULL REFERENCES fit (id),
    key TEXT NOT NULL,
    number REAL,
    word TEXT,
    PRIMARY KEY (fit_id, key)
) STRICT;

-- Deviations from those values, and their covariance with ln speed, angle, ln drag, lift and direction.
CREATE TABLE fit_deviation (
    fit_id INTEGER NOT NULL REFERENCES fit (id),
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    mean REAL NOT NULL,
    with_ln_speed REAL NOT NULL,
    with_angle REAL NOT NULL,
    with_ln_drag REAL NOT NULL,
    with_lift REAL NOT NULL,
    with_aside REAL NOT NULL,
    PRIMARY KEY (fit_id, place)
) STRICT;

-- What was learned, before and now, as people speak of it.
CREATE TABLE fit_estimate (
    fit_id INTEGER NOT NULL REFERENCES fit (id),
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    unit TEXT NOT NULL,
    before REAL NOT NULL,
    before_sd REAL NOT NULL,
    now REAL NOT NULL,
    now_sd REAL NOT NULL,
    PRIMARY KEY (fit_id, place)
) STRICT;

-- Setpoints by spot as they were at that time, for the record: the commands work them out anew.
CREATE TABLE fit_setpoint (
    fit_id INTEGER NOT NULL REFERENCES fit (id),
    spot TEXT NOT NULL,
    distance_m REAL NOT NULL,
    wheel_radps REAL,
    wheel_sd_radps REAL,
    design_radps REAL,
    hit_expected_frac REAL,
    PRIMARY KEY (fit_id, spot)
) STRICT;

CREATE TRIGGER fit_stays BEFORE UPDATE ON fit BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_kept BEFORE DELETE ON fit BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_project_stays BEFORE UPDATE ON fit_project BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_project_kept BEFORE DELETE ON fit_project BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_deviation_stays BEFORE UPDATE ON fit_deviation BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_deviation_kept BEFORE DELETE ON fit_deviation BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_estimate_stays BEFORE UPDATE ON fit_estimate BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_estimate_kept BEFORE DELETE ON fit_estimate BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_setpoint_stays BEFORE UPDATE ON fit_setpoint BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
CREATE TRIGGER fit_setpoint_kept BEFORE DELETE ON fit_setpoint BEGIN SELECT raise(ABORT, 'the log is only added to'); END;
