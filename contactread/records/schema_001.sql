-- Times are UTC, written YYYY-MM-DDTHH:MM:SSZ. Lengths are mm, torques N·m, however the user entered them.
-- The words after each column are its documentation: SCHEMA.md is made from this file, and a test keeps
-- the two together.

CREATE TABLE migration ( -- One row per step that brought the book to its present schema.
    version INTEGER PRIMARY KEY, -- number of the step; the highest is the schema's version
    name TEXT NOT NULL, -- file the step came from
    applied_at TEXT NOT NULL -- when
) STRICT;

CREATE TABLE axle ( -- An axle file as it was when a job was opened. Equal files share one row.
    id INTEGER PRIMARY KEY, -- number of the row
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64), -- of the text in UTF-8
    text TEXT NOT NULL, -- the whole axle file (TOML)
    kind TEXT NOT NULL CHECK (length(kind) > 0) -- name that groups jobs on the same kind of axle
) STRICT;

CREATE TABLE job ( -- One axle taken in hand.
    id INTEGER PRIMARY KEY AUTOINCREMENT, -- the job's number, never used twice
    vehicle TEXT NOT NULL CHECK (length(vehicle) > 0), -- vehicle or unit, in the shop's own words
    axle_id INTEGER NOT NULL REFERENCES axle (id), -- axle file that the job goes by
    gear_set TEXT NOT NULL, -- what is known of the gear set: maker's number, etched marks; may be empty
    condition TEXT NOT NULL CHECK (condition IN ('new', 'used')), -- new or used gear set
    opened_by TEXT NOT NULL CHECK (length(opened_by) > 0), -- who took the job
    opened_at TEXT NOT NULL, -- when
    notes TEXT NOT NULL -- free words; may be empty
) STRICT;
CREATE INDEX job_by_axle ON job (axle_id);
CREATE INDEX job_by_time ON job (opened_at);

CREATE TABLE try ( -- One assembly of the axle that was measured or rolled.
    id INTEGER PRIMARY KEY, -- number of the row
    job_id INTEGER NOT NULL REFERENCES job (id), -- the job
    number INTEGER NOT NULL CHECK (number >= 1), -- 1, 2, 3, ... within the job
    made_by TEXT NOT NULL CHECK (length(made_by) > 0), -- who
    made_at TEXT NOT NULL, -- when
    pinion_shim_mm REAL NOT NULL CHECK (pinion_shim_mm BETWEEN 0 AND 50), -- depth shim pack as built
    ring_side_shim_mm REAL CHECK (ring_side_shim_mm BETWEEN 0 AND 50), -- side shim behind the ring gear
    opposite_side_shim_mm REAL CHECK (opposite_side_shim_mm BETWEEN 0 AND 50), -- side shim opposite
    ring_side_notches REAL CHECK (abs(ring_side_notches) <= 1000), -- adjuster behind the ring gear, notches in (+) since try 1
    opposite_side_notches REAL CHECK (abs(opposite_side_notches) <= 1000), -- adjuster opposite, notches in (+) since try 1
    ring_runout_mm REAL CHECK (ring_runout_mm BETWEEN 0 AND 5), -- ring-gear runout, dial reading
    pinion_torque_nm REAL CHECK (pinion_torque_nm BETWEEN 0 AND 500), -- turning torque of the pinion alone
    bearings TEXT CHECK (bearings IN ('new', 'used')), -- pinion bearings that torque was measured on
    total_torque_nm REAL CHECK (total_torque_nm BETWEEN 0 AND 500), -- turning torque of pinion and ring gear together
    side_preload_mm REAL CHECK (side_preload_mm BETWEEN 0 AND 5), -- side-bearing preload as spread or shim beyond zero play
    compound TEXT, -- marking compound
    drag TEXT, -- how the gears were held back while rolling
    notes TEXT NOT NULL, -- free words; may be empty
    UNIQUE (job_id, number),
    CHECK ((ring_side_shim_mm IS NULL) = (opposite_side_shim_mm IS NULL)),
    CHECK ((ring_side_notches IS NULL) = (opposite_side_notches IS NULL)),
    CHECK ((pinion_torque_nm IS NULL) = (bearings IS NULL))
) STRICT;
CREATE INDEX try_by_time ON try (made_at, made_by, job_id);

CREATE TABLE backlash ( -- Backlash of a try, one row for each place on the ring gear.
    try_id INTEGER NOT NULL REFERENCES try (id), -- the try
    place INTEGER NOT NULL CHECK (place >= 1), -- 1, 2, 3, ... in the order of measuring
    mm REAL NOT NULL CHECK (mm BETWEEN 0 AND 5), -- dial reading
    PRIMARY KEY (try_id, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE fastener ( -- A torque the axle's manual asks for, entered by the user, never by this program.
    try_id INTEGER NOT NULL REFERENCES try (id), -- the try
    name TEXT NOT NULL CHECK (length(name) > 0), -- which bolts or nut
    least_nm REAL NOT NULL CHECK (least_nm BETWEEN 0 AND 5000), -- least the manual allows
    most_nm REAL NOT NULL CHECK (most_nm BETWEEN 0 AND 5000), -- most the manual allows
    tightened_nm REAL CHECK (tightened_nm BETWEEN 0 AND 5000), -- what they were tightened to; empty until done
    PRIMARY KEY (try_id, name),
    CHECK (least_nm <= most_nm)
) STRICT, WITHOUT ROWID;

CREATE TABLE photo ( -- A photo as it came. Its bytes lie beside the book, under its SHA-256.
    id INTEGER PRIMARY KEY, -- number within the book
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64), -- of the file's bytes
    try_id INTEGER REFERENCES try (id), -- the try it shows; empty while it isn't known
    name TEXT NOT NULL, -- file name it came with
    suffix TEXT NOT NULL, -- ending of the stored file, such as .jpg
    bytes INTEGER NOT NULL CHECK (bytes >= 0), -- size
    added_by TEXT NOT NULL CHECK (length(added_by) > 0), -- who
    added_at TEXT NOT NULL -- when
) STRICT;
CREATE INDEX photo_by_try ON photo (try_id);

CREATE TABLE reading ( -- What was read from a photo, or why it was refused. A photo's newest row counts.
    id INTEGER PRIMARY KEY, -- number of the row
    photo_id INTEGER NOT NULL REFERENCES photo (id), -- the photo
    read_at TEXT NOT NULL, -- when
    program TEXT NOT NULL, -- version of contactread that read it
    status TEXT NOT NULL CHECK (status IN ('read', 'refused')), -- whether it could be read
    refusal TEXT CHECK ((refusal IS NULL) = (status = 'read')), -- code of the refusal
    side TEXT CHECK (side IN ('drive', 'coast')), -- drive or coast
    flank TEXT CHECK (flank IN ('convex', 'concave')), -- flank of the ring gear
    confidence REAL, -- 0 to 1
    centre_u REAL, -- centre of the pattern along the length, 0 toe to 1 heel
    centre_v REAL, -- centre of the pattern up the height, 0 root to 1 top
    spread_u REAL, -- tooth-to-tooth standard deviation of the centre along the length
    spread_v REAL, -- the same up the height
    wave_u REAL, -- size of the centre's once-per-turn swing along the length; empty where too few teeth show it
    wave_v REAL, -- the same up the height
    json TEXT NOT NULL CHECK (json_valid(json)), -- the reading with what was measured, or the refusal
    CHECK (status = 'refused' OR (side IS NOT NULL AND flank IS NOT NULL AND centre_u IS NOT NULL AND centre_v IS NOT NULL))
) STRICT;
CREATE INDEX reading_by_photo ON reading (photo_id, id, spread_u, spread_v, wave_u, wave_v);
CREATE INDEX reading_refused ON reading (refusal, photo_id) WHERE status = 'refused';

CREATE TABLE advice ( -- Advice given on a try. The newest row counts.
    id INTEGER PRIMARY KEY, -- number of the row
    try_id INTEGER NOT NULL REFERENCES try (id), -- the try
    given_at TEXT NOT NULL, -- when
    program TEXT NOT NULL, -- version of contactread that gave it
    verdict TEXT NOT NULL, -- code of what the pair of readings says
    pinion_shim_change_mm REAL, -- advised change of the pinion shim; empty where none is advised
    ring_move_mm REAL, -- advised move of the ring gear, positive away from the pinion; empty where none is
    json TEXT NOT NULL CHECK (json_valid(json)) -- the whole advice
) STRICT;
CREATE INDEX advice_by_try ON advice (try_id, id);

CREATE TABLE sign_off ( -- How a job was closed.
    job_id INTEGER PRIMARY KEY REFERENCES job (id), -- the job
    outcome TEXT NOT NULL CHECK (outcome IN ('done', 'stopped')), -- finished, or given up before the cover went on
    signed_by TEXT NOT NULL CHECK (length(signed_by) > 0), -- who
    signed_at TEXT NOT NULL, -- when
    final_try_id INTEGER REFERENCES try (id), -- the try the axle left with
    reason TEXT NOT NULL, -- why it was stopped, or signed off though something was open; else empty
    left_open TEXT NOT NULL CHECK (json_valid(left_open)), -- what the sheet still missed when it was signed, list of sentences
    CHECK (outcome = 'stopped' OR final_try_id IS NOT NULL),
    CHECK (outcome = 'done' OR length(reason) > 0)
) STRICT;
CREATE INDEX sign_off_by_try ON sign_off (final_try_id);

CREATE TABLE check_list ( -- One line of the check-list of a sign-off.
    job_id INTEGER NOT NULL REFERENCES sign_off (job_id), -- the job
    item TEXT NOT NULL, -- code of the line, from shared/sign_off.toml
    words TEXT NOT NULL, -- the line as it read when it was confirmed
    PRIMARY KEY (job_id, item)
) STRICT, WITHOUT ROWID;

CREATE TABLE correction ( -- A value that was recorded and later replaced. Nothing recorded is lost.
    id INTEGER PRIMARY KEY, -- number of the row
    try_id INTEGER NOT NULL REFERENCES try (id), -- the try
    field TEXT NOT NULL, -- what was replaced
    old_value TEXT NOT NULL, -- the value before
    corrected_by TEXT NOT NULL CHECK (length(corrected_by) > 0), -- who
    corrected_at TEXT NOT NULL -- when
) STRICT;
CREATE INDEX correction_by_try ON correction (try_id);

-- The search index is filled by triggers, so that it can't fall behind the tables. The row number in it
-- says where the words come from: 8 times the row's own number, plus 0 job, 1 try, 2 photo, 3 sign-off,
-- 4 reading.
CREATE VIRTUAL TABLE words USING fts5 (text, prefix = '2 3', tokenize = 'unicode61 remove_diacritics 2');
CREATE TRIGGER job_words AFTER INSERT ON job BEGIN
    INSERT INTO words (rowid, text) SELECT 8 * new.id,
        new.vehicle || ' ' || new.gear_set || ' ' || new.condition || ' ' || new.opened_by || ' '
        || new.opened_at || ' ' || new.notes || ' ' || axle.kind
        FROM axle WHERE axle.id = new.axle_id;
END;
CREATE TRIGGER try_words AFTER INSERT ON try BEGIN
    INSERT INTO words (rowid, text) VALUES (8 * new.id + 1, new.made_by || ' ' || new.made_at || ' '
        || ifnull(new.compound, '') || ' ' || ifnull(new.drag, '') || ' ' || new.notes);
END;
CREATE TRIGGER try_words_again AFTER UPDATE OF compound, drag, notes ON try BEGIN
    UPDATE words SET text = new.made_by || ' ' || new.made_at || ' ' || ifnull(new.compound, '') || ' '
        || ifnull(new.drag, '') || ' ' || new.notes WHERE rowid = 8 * new.id + 1;
END;
CREATE TRIGGER photo_words AFTER INSERT ON photo BEGIN
    INSERT INTO words (rowid, text)
    VALUES (8 * new.id + 2, new.name || ' ' || new.added_by || ' ' || new.added_at || ' ' || new.sha256);
END;
CREATE TRIGGER sign_off_words AFTER INSERT ON sign_off BEGIN
    INSERT INTO words (rowid, text) VALUES (8 * new.job_id + 3, new.outcome || ' ' || new.signed_by || ' '
        || new.signed_at || ' ' || new.reason || ' ' || new.left_open);
END;
CREATE TRIGGER reading_words AFTER INSERT ON reading BEGIN
    INSERT INTO words (rowid, text) VALUES (8 * new.id + 4, new.status || ' ' || ifnull(new.refusal, '')
        || ' ' || ifnull(new.side, '') || ' ' || ifnull(new.flank, '') || ' '
        || ifnull(json_extract(new.json, '$.flags'), ''));
END;
