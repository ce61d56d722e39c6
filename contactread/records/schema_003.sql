-- Slips can be undone, changed facts are found, books can be merged.

CREATE TABLE entry ( -- One write: everything that one command changed at once.
    id INTEGER PRIMARY KEY, -- 1, 2, 3, ... without a gap
    who TEXT NOT NULL, -- who did it; empty where nobody is named
    at TEXT NOT NULL, -- when
    what TEXT NOT NULL, -- in words
    job_id INTEGER, -- the job it concerns; empty for none or several
    undoes INTEGER REFERENCES entry (id), -- the entry that it takes back
    digest TEXT NOT NULL CHECK (length(digest) = 64) -- SHA-256 over the digest before, this row and its changes
) STRICT;
CREATE INDEX entry_by_job ON entry (job_id, id);
CREATE INDEX entry_undone ON entry (undoes) WHERE undoes IS NOT NULL;

CREATE TABLE change ( -- One row that an entry put in, changed or took out.
    entry_id INTEGER NOT NULL REFERENCES entry (id), -- the entry
    number INTEGER NOT NULL, -- 1, 2, 3, ... within the entry
    table_name TEXT NOT NULL, -- table of the row
    row_key TEXT NOT NULL, -- its primary key; parts joined by a slash
    before TEXT CHECK (before IS NULL OR json_valid(before)), -- the row as it was; empty for a new row
    after TEXT, -- digest of each column as it is since, joined by dots; empty for a row taken out
    PRIMARY KEY (entry_id, number),
    CHECK (before IS NOT NULL OR after IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX change_by_row ON change (table_name, row_key);

-- Every record gets an identity of its own (uid), which no other shop's or bench's record has. Old records get
-- theirs from what never changed in them, so that copies of one book still know each other.

ALTER TABLE job ADD COLUMN uid TEXT NOT NULL DEFAULT ''; -- identity across books
ALTER TABLE job ADD COLUMN customer TEXT NOT NULL DEFAULT ''; -- whose vehicle or unit it is; may be empty
ALTER TABLE job ADD COLUMN mileage TEXT NOT NULL DEFAULT ''; -- distance or hours run, with its unit; may be empty
ALTER TABLE job ADD COLUMN shop TEXT NOT NULL DEFAULT ''; -- the shop that did the work; may be empty
ALTER TABLE job ADD COLUMN struck TEXT CHECK (length(struck) > 0); -- why the job doesn't count; empty where it does
UPDATE job SET uid = substr(sha256('job ' || id || ' ' || opened_at || ' ' || opened_by || ' ' || vehicle), 1, 32);
CREATE UNIQUE INDEX job_by_uid ON job (uid);

-- A pinion shim that nobody knows stays unknown, so the table of tries is made anew.
CREATE TABLE new_try ( -- One assembly of the axle that was measured or rolled.
    id INTEGER PRIMARY KEY, -- number of the row
    uid TEXT NOT NULL UNIQUE, -- identity across books
    job_id INTEGER NOT NULL REFERENCES job (id), -- the job
    number INTEGER NOT NULL CHECK (number >= 1), -- 1, 2, 3, ... within the job
    made_by TEXT NOT NULL CHECK (length(made_by) > 0), -- who
    made_at TEXT NOT NULL, -- when
    pinion_shim_mm REAL CHECK (pinion_shim_mm BETWEEN 0 AND 50), -- depth shim pack as built; empty where nobody knows
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
    struck TEXT CHECK (length(struck) > 0), -- why the try doesn't count; empty where it does
    UNIQUE (job_id, number),
    CHECK ((ring_side_shim_mm IS NULL) = (opposite_side_shim_mm IS NULL)),
    CHECK ((ring_side_notches IS NULL) = (opposite_side_notches IS NULL)),
    CHECK ((pinion_torque_nm IS NULL) = (bearings IS NULL))
) STRICT;
INSERT INTO new_try
    SELECT id, substr(sha256('try ' || (SELECT uid FROM job WHERE job.id = job_id) || ' ' || number), 1, 32),
        job_id, number, made_by, made_at, pinion_shim_mm, ring_side_shim_mm, opposite_side_shim_mm,
        ring_side_notches, opposite_side_notches, ring_runout_mm, pinion_torque_nm, bearings, total_torque_nm,
        side_preload_mm, compound, drag, notes, NULL
    FROM try;
DROP TABLE try;
ALTER TABLE new_try RENAME TO try;
CREATE INDEX try_by_time ON try (made_at, made_by, job_id);

ALTER TABLE photo ADD COLUMN struck TEXT CHECK (length(struck) > 0); -- why the photo doesn't count; empty where it does

ALTER TABLE reading ADD COLUMN uid TEXT NOT NULL DEFAULT ''; -- identity across books
UPDATE reading SET uid = substr(sha256('reading ' || id || ' ' || read_at || ' '
    || (SELECT sha256 FROM photo WHERE photo.id = photo_id)), 1, 32);
CREATE UNIQUE INDEX reading_by_uid ON reading (uid);

ALTER TABLE advice ADD COLUMN uid TEXT NOT NULL DEFAULT ''; -- identity across books
ALTER TABLE advice ADD COLUMN axle_id INTEGER REFERENCES axle (id); -- axle file that it was given by
ALTER TABLE advice ADD COLUMN words TEXT NOT NULL DEFAULT ''; -- the advice as it was shown; empty before schema 3
UPDATE advice SET
    uid = substr(sha256('advice ' || id || ' ' || given_at || ' ' || (SELECT uid FROM try WHERE try.id = try_id)), 1, 32),
    axle_id = (SELECT job.axle_id FROM try JOIN job ON job.id = try.job_id WHERE try.id = try_id);
CREATE UNIQUE INDEX advice_by_uid ON advice (uid);

ALTER TABLE practice_answer ADD COLUMN uid TEXT NOT NULL DEFAULT ''; -- identity across books
UPDATE practice_answer SET uid = substr(sha256('answer ' || id || ' ' || answered_at || ' ' || apprentice || question), 1, 32);
CREATE UNIQUE INDEX practice_answer_by_uid ON practice_answer (uid);

CREATE TABLE new_correction ( -- A value that was recorded and later replaced, moved or struck out.
    id INTEGER PRIMARY KEY, -- number of the row
    uid TEXT NOT NULL UNIQUE, -- identity across books
    job_id INTEGER NOT NULL REFERENCES job (id), -- the job
    try_id INTEGER REFERENCES try (id), -- the try; empty where it is about the job
    field TEXT NOT NULL, -- what was replaced
    old_value TEXT NOT NULL, -- the value before
    new_value TEXT, -- the value since; empty for none, and before schema 3
    reason TEXT NOT NULL, -- why; may be empty
    corrected_by TEXT NOT NULL CHECK (length(corrected_by) > 0), -- who
    corrected_at TEXT NOT NULL, -- when
    after_sign_off INTEGER NOT NULL CHECK (after_sign_off IN (0, 1)) -- 1 where the job had been signed off before
) STRICT;
INSERT INTO new_correction
    SELECT id, substr(sha256('correction ' || id || ' ' || corrected_at || ' '
        || (SELECT uid FROM try WHERE try.id = try_id)), 1, 32),
        (SELECT job_id FROM try WHERE try.id = try_id), try_id, field, old_value, NULL, '', corrected_by, corrected_at, 0
    FROM correction;
DROP TABLE correction;
ALTER TABLE new_correction RENAME TO correction;
CREATE INDEX correction_by_job ON correction (job_id, try_id);

CREATE TABLE reopening ( -- A sign-off that was taken back because more had to be done or put right.
    id INTEGER PRIMARY KEY, -- number of the row
    uid TEXT NOT NULL UNIQUE, -- identity across books
    job_id INTEGER NOT NULL REFERENCES job (id), -- the job
    reopened_by TEXT NOT NULL CHECK (length(reopened_by) > 0), -- who
    reopened_at TEXT NOT NULL, -- when
    reason TEXT NOT NULL CHECK (length(reason) > 0), -- why
    signed TEXT NOT NULL CHECK (json_valid(signed)) -- the sign-off as it was, with what was confirmed
) STRICT;
CREATE INDEX reopening_by_job ON reopening (job_id);

-- The search index follows every change; what stands in it is said once, in these views.
DROP TRIGGER job_words;
DROP TRIGGER photo_words;
DROP TRIGGER sign_off_words;
DROP TRIGGER reading_words;
CREATE VIEW job_text AS SELECT job.id AS id, 8 * job.id AS place, vehicle || ' ' || customer || ' ' || gear_set || ' '
    || condition || ' ' || opened_by || ' ' || opened_at || ' ' || notes || ' ' || axle.kind AS text
    FROM job JOIN axle ON axle.id = job.axle_id;
CREATE VIEW try_text AS SELECT id, 8 * id + 1 AS place, made_by || ' ' || made_at || ' ' || ifnull(compound, '') || ' '
    || ifnull(drag, '') || ' ' || notes AS text FROM try;
CREATE VIEW photo_text AS SELECT id, 8 * id + 2 AS place, name || ' ' || added_by || ' ' || added_at || ' ' || sha256 AS text
    FROM photo;
CREATE VIEW sign_off_text AS SELECT job_id AS id, 8 * job_id + 3 AS place, outcome || ' ' || signed_by || ' ' || signed_at
    || ' ' || reason || ' ' || left_open AS text FROM sign_off;
CREATE VIEW reading_text AS SELECT id, 8 * id + 4 AS place, status || ' ' || ifnull(refusal, '') || ' ' || ifnull(side, '')
    || ' ' || ifnull(flank, '') || ' ' || ifnull(json_extract(json, '$.flags'), '') AS text FROM reading;
CREATE TRIGGER job_words AFTER INSERT ON job BEGIN
    INSERT INTO words (rowid, text) SELECT place, text FROM job_text WHERE id = new.id;
END;
CREATE TRIGGER job_words_again AFTER UPDATE ON job BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id;
    INSERT INTO words (rowid, text) SELECT place, text FROM job_text WHERE id = new.id;
END;
CREATE TRIGGER job_words_gone AFTER DELETE ON job BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id;
END;
CREATE TRIGGER try_words AFTER INSERT ON try BEGIN
    INSERT INTO words (rowid, text) SELECT place, text FROM try_text WHERE id = new.id;
END;
CREATE TRIGGER try_words_again AFTER UPDATE OF made_by, made_at, compound, drag, notes ON try BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id + 1;
    INSERT INTO words (rowid, text) SELECT place, text FROM try_text WHERE id = new.id;
END;
CREATE TRIGGER try_words_gone AFTER DELETE ON try BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id + 1;
END;
CREATE TRIGGER photo_words AFTER INSERT ON photo BEGIN
    INSERT INTO words (rowid, text) SELECT place, text FROM photo_text WHERE id = new.id;
END;
CREATE TRIGGER photo_words_gone AFTER DELETE ON photo BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id + 2;
END;
CREATE TRIGGER sign_off_words AFTER INSERT ON sign_off BEGIN
    INSERT INTO words (rowid, text) SELECT place, text FROM sign_off_text WHERE id = new.job_id;
END;
CREATE TRIGGER sign_off_words_gone AFTER DELETE ON sign_off BEGIN
    DELETE FROM words WHERE rowid = 8 * old.job_id + 3;
END;
CREATE TRIGGER reading_words AFTER INSERT ON reading BEGIN
    INSERT INTO words (rowid, text) SELECT place, text FROM reading_text WHERE id = new.id;
END;
CREATE TRIGGER reading_words_gone AFTER DELETE ON reading BEGIN
    DELETE FROM words WHERE rowid = 8 * old.id + 4;
END;
DELETE FROM words;
INSERT INTO words (rowid, text) SELECT place, text FROM job_text UNION ALL SELECT place, text FROM try_text
    UNION ALL SELECT place, text FROM photo_text UNION ALL SELECT place, text FROM sign_off_text
    UNION ALL SELECT place, text FROM reading_text;
