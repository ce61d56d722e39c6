-- Practice: what apprentices answered, and which tries of the shop became questions.

CREATE TABLE practice_answer ( -- One answer of an apprentice to a practice question.
    id INTEGER PRIMARY KEY, -- number of the row
    apprentice TEXT NOT NULL CHECK (length(apprentice) > 0), -- who answered
    answered_at TEXT NOT NULL, -- when
    topic TEXT NOT NULL, -- topic of the question
    question TEXT NOT NULL, -- its id, which makes the same question again
    given TEXT NOT NULL, -- the answer as it was understood
    score REAL NOT NULL CHECK (score BETWEEN 0 AND 1), -- 1 right, 0.5 half right, 0 wrong
    test INTEGER -- seed of the test it belongs to; empty for the course
) STRICT;
CREATE INDEX practice_answer_by_apprentice ON practice_answer (apprentice, id);

CREATE TABLE practice_case ( -- A try of the shop that is used as a question.
    try_id INTEGER PRIMARY KEY REFERENCES try (id), -- the try that is shown
    right_move TEXT NOT NULL, -- the move that proved right: pinion_toward, pinion_away, gear_toward, gear_away or inspect
    says TEXT NOT NULL, -- what proved it right, in the shop's own words
    added_by TEXT NOT NULL CHECK (length(added_by) > 0), -- who made it a question
    added_at TEXT NOT NULL -- when
) STRICT;
