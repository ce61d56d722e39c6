"""The shapes of the shop book's commands, of set-up sums and of practice: JSON Schemas by name.

Records of the book are told from their own classes.
"""

from __future__ import annotations

from contactread.handbook.schema_parts import (
    COUNT,
    NUMBER,
    NUMBERED,
    PAIR,
    SHARE,
    TEXT,
    YES_NO,
    Schema,
    by_name,
    many,
    of,
    one_of,
    or_null,
    record,
    told,
)  # fmt: skip
from contactread.handbook.schemas_read import ADVICE, LENGTH, STATEMENT
from contactread.records.check import Soundness
from contactread.records.merge import Merged
from contactread.records.nouns import Correction, Job, RecordedAdvice, RecordedPhoto, Try
from contactread.records.review import Outcome
from contactread.records.sheet import Sheet
from contactread.records.undo import Entry

_JOB, _TRY = of(Job), of(Try)
_SHEET = of(Sheet)
_SHEET["properties"]["ready"] = told("Nothing is missing or outside.", YES_NO)
_SHEET["required"] = [*_SHEET["required"], "ready"]
_ROWS = told("Records, by table.", by_name(COUNT))
_CELLS = told("One object a row; its keys are the columns.",
              many(by_name({"type": ["string", "number", "integer", "boolean", "null"]})))  # fmt: skip
_SOURCES = told("Ids of shared/sources.toml.", many(TEXT))
_WORKING = record(
    result=told("What comes out.", LENGTH),
    lines=told("The working, line by line.", many(TEXT)),
    convention=told("The sign convention in words.", TEXT),
    sources=_SOURCES,
    notes=told("What to mind.", many(TEXT)),
)
_PLACE = record(backlash_mm=told("As given.", NUMBER), verdict=told("Against the limits.", TEXT))
_COUNTS = record(
    pinion_teeth=COUNT, ring_teeth=COUNT, ratio=NUMBER, hunting=told("Every tooth meets every other.", YES_NO)
)
_ESTIMATE = record(value=or_null(NUMBER), low=or_null(NUMBER), high=or_null(NUMBER), count=COUNT)
_BOTH = record(length=_ESTIMATE, height=_ESTIMATE)
_STATE = record(
    topic=TEXT,
    asked=COUNT,
    right=COUNT,
    state=told("In a word.", TEXT),
    known=told("Share known for sure.", SHARE),
    last=told("When it was asked last.", or_null(TEXT)),
    due=told("When it comes up again.", or_null(TEXT)),
)
_APPRENTICE = record(
    apprentice=TEXT,
    answered=COUNT,
    right=COUNT,
    needs=told("Topics to work on.", many(TEXT)),
    topics=many(_STATE),
    tests=many(record(seed=COUNT, answered=COUNT, right=COUNT)),
)
_TOPIC = record(
    id=TEXT,
    level=COUNT,
    heading=TEXT,
    lesson=told("What is read before the first question.", TEXT),
    terms=told("Terms of the glossary.", many(TEXT)),
)
_MARK = record(
    question=TEXT,
    topic=TEXT,
    given=told("The answer as given.", TEXT),
    right=YES_NO,
    best=told("The best answer.", TEXT),
    best_says=told("What the best answer is called.", TEXT),
    also_right=told("What is as good.", many(TEXT)),
    ends=told("Where acting on the answers ends.", {"type": "array"}),
    about=told("Why.", many(STATEMENT)),
    against_chart=told("Where the axle goes against the common chart.", or_null(STATEMENT)),
    outcomes_svg=told("The flanks afterwards, drawn.", or_null(TEXT)),
)
_QUESTION = record(
    id=TEXT,
    topic=TEXT,
    prompt=TEXT,
    given=told("What is known.", many(TEXT)),
    convention=told("Whose chart is meant.", or_null(STATEMENT)),
    answer=told("How it is answered: kind, and its options or an example.", {"type": "object"}),
    terms=many(TEXT),
    pictures=told("Drawings as SVG, photographs by place.", many({"type": "object"})),
    mark=or_null(_MARK),
)

SHOP: dict[str, Schema] = {
    "job": record(
        schema=NUMBERED, job=_JOB, tries=many(_TRY), attempt=told("The newest try.", or_null(_TRY)),
        sheet=_SHEET, corrections=many(of(Correction)),
    ),
    "job-list": record(schema=NUMBERED, jobs=many(_JOB)),
    "try-advise": record(schema=NUMBERED, advice=ADVICE, attempt=_TRY),
    "try-advice": record(
        schema=NUMBERED, advice=told("All that was given, oldest first.", many(of(RecordedAdvice))),
        outgrown=told("Photos, measurements or the axle file have changed since: ask again.", YES_NO),
    ),
    "photo": record(schema=NUMBERED, photo=of(RecordedPhoto)),
    "undo": record(
        schema=NUMBERED, taken_back=of(Entry),
        also=told("With it, newest first: the other entries of a review, or of its undo.", many(of(Entry))),
    ),
    "log": record(schema=NUMBERED, entries=many(of(Entry))),
    "check": record(schema=NUMBERED, found=of(Soundness), clean=told("Nothing was found.", YES_NO)),
    "backup": record(schema=NUMBERED, backup=told("The copy.", TEXT)),
    "restore": record(
        schema=NUMBERED, jobs=COUNT, missing=told("SHA-256 of photos whose file isn't there.", many(TEXT)),
        source=told("What was put back.", TEXT), kept=told("What lay there before.", or_null(TEXT)),
    ),
    "export": record(schema=NUMBERED, folder=TEXT, rows=_ROWS),
    "import": record(schema=NUMBERED, book=TEXT, rows=_ROWS, merged=of(Merged)) | {
        "required": ["schema", "book"]},
    "report": record(schema=NUMBERED, report=told("The file.", TEXT)),
    "review": record(
        schema=NUMBERED, summary=record(counts=by_name(COUNT), why=told("By code.", by_name(COUNT))),
        photos=many(of(Outcome)), jobs=_CELLS,
    ),
    "review-dry-run": record(schema=NUMBERED, plan=many(record(
        job=told("Number, or words for a new one.", {"type": ["integer", "string", "null"]}),
        photos=many(TEXT), sides=many(TEXT), taken_at=or_null(TEXT), doubts=many(TEXT),
        **{"try": or_null(COUNT)},
    ))),
    "ask": record(schema=NUMBERED, title=TEXT, rows=_CELLS),
    "sums": told("Of mark, distance, housing, gauge and cone-centre.", _WORKING),
    "sums-side-shims": record(ring_side=_WORKING, opposite=_WORKING),
    "sums-backlash": record(
        mean_mm=NUMBER, spread_mm=NUMBER, verdict=told("Of all places together.", TEXT), places=many(_PLACE),
        spread_ok=told("Null without a limit.", or_null(YES_NO)),
        ring_gear_travel_mm=told("That brings all inside; null where none does.", or_null(PAIR)),
        sources=_SOURCES,
    ),
    "sums-runout": record(
        verdict=one_of("within", "beyond", "no_limit"), runout_mm=NUMBER,
        miss_mm=told("Beyond the limit.", NUMBER), sources=_SOURCES,
    ),
    "sums-ratio": record(tooth_counts=many(_COUNTS)),
    "practice": record(
        schema=NUMBERED, test=told("The test's number; null in the course.", or_null(COUNT)),
        questions=many(_QUESTION), answered=COUNT, right=COUNT,
    ),
    "practice-topics": record(schema=NUMBERED, topics=many(_TOPIC), stored_questions=by_name(many(TEXT))),
    "practice-progress": record(schema=NUMBERED, apprentices=many(_APPRENTICE)),
    "practice-readers": record(
        schema=NUMBERED,
        readers=many(record(reader=TEXT, bias=_BOTH, spread=_BOTH)),
        pairs=many(record(readers=many(TEXT, 2), kappa=_ESTIMATE, icc=_BOTH)),
        everyone_icc=or_null(_BOTH),
    ),
}  # fmt: skip
