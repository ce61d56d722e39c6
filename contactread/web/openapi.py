"""The description of the API (OpenAPI 3.1)."""

from __future__ import annotations

from contactread import __version__
from contactread.handbook.schema_parts import (
    COUNT,
    NUMBER,
    PAIR,
    TEXT,
    YES_NO,
    Schema,
    by_name,
    many,
    one_of,
    or_null,
    record,
)

PREFIX = "/api/v1"


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


LINE = many(PAIR)
SIDE = or_null(one_of("drive", "coast"))
FLANK = or_null(one_of("convex", "concave"))
CORNERS = record(**dict.fromkeys(("toe_root", "toe_top", "heel_top", "heel_root"), PAIR))
_CORRECTION: Schema = {
    "flank": FLANK,
    "moved": by_name(CORNERS),
    "left_out": by_name(one_of("struck", "unrolled")),
    "marked": {"type": "array", "items": CORNERS, "description": "By hand, instead of the found ones."},
}
_READING: Schema = {
    "status": one_of("read", "refused", "waiting"),
    "side": SIDE,
    "flank": FLANK,
    "refusal": or_null(_ref("Trouble")),
    "flags": many(record(**dict.fromkeys(("code", "short", "meaning", "next_step"), TEXT))),
    "confidence": or_null(NUMBER),
    "pattern": or_null({"type": "object", "description": "As in `contactread read --json`."}),
    "overlay": or_null(_ref("Overlay")),
    "corrected": YES_NO,
}

SCHEMAS: Schema = {
    "Trouble": record(code=TEXT, message=TEXT, next_step=TEXT),
    "Error": record(error=_ref("Trouble")),
    "Overlay": record(
        size=PAIR,
        teeth=many(record(
            outline=LINE, label=LINE, painted=YES_NO, patches=many(LINE), centre=or_null(PAIR))),
        zone=or_null(LINE),
        move=or_null(LINE),
    ),
    "Reading": record(**_READING),
    "Photo": record(**{"sha256": TEXT, "name": TEXT} | _READING),
    "Teeth": record(flank=FLANK, size=PAIR, teeth=many(CORNERS), correction=record(**_CORRECTION)),
    "Correction": {"type": "object", "additionalProperties": False,
                   "properties": _CORRECTION | {"keep": YES_NO, "as_found": YES_NO}},
    "Advice": {"type": "object", "description": "As in `contactread read --json`.",
               "required": ["verdict", "headline", "moves", "diagnosis", "next_steps", "cautions"]},
    "Answer": record(lines=many(TEXT), advice=or_null(_ref("Advice")), lacking=TEXT),
    "WhatIf": record(
        pinion_mm=NUMBER, ring_mm=NUMBER, moves=many(TEXT), backlash=TEXT, chance=NUMBER,
        chance_words=TEXT,
        sides=record(**dict.fromkeys(("drive", "coast"), record(chart=TEXT, words=TEXT))),
    ),
    "Job": record(**{"id": COUNT} | dict.fromkeys(
        ("vehicle", "kind", "gear_set", "condition", "opened_by", "opened_at", "state"), TEXT)),
    "Phone": record(name=TEXT, key=TEXT | {"description": "What a page's forms carry."}),
    "Jobs": record(jobs=many(_ref("Job"))),
    "Try": record(
        number=COUNT, made_by=TEXT, made_at=TEXT, pinion_shim_mm=or_null(NUMBER),
        ring_side_shim_mm=or_null(NUMBER), opposite_side_shim_mm=or_null(NUMBER),
        backlash_mm=many(NUMBER), photos=many(_ref("Photo")), lines=many(TEXT),
        advice=or_null(_ref("Advice")),
        outgrown=YES_NO | {"description": "Photos, measurements or the axle file have changed since the "
                              "last advice: there is none until it is asked for again."},
    ),
    "WholeJob": record(
        job=_ref("Job"), tries=many(_ref("Try")),
        sheet={"type": "object", "required": ["ready", "missing", "outside", "measures"]},
    ),
}  # fmt: skip

_PHOTO = {
    "name": "sha256",
    "in": "path",
    "required": True,
    "schema": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
}
_JOB_PATH = {"name": "job", "in": "path", "required": True, "schema": COUNT}


def _query(name: str, schema: Schema, says: str, several: bool = False, required: bool = False) -> Schema:
    return {"name": name, "in": "query", "required": required, "description": says,
            "schema": many(schema) if several else schema}  # fmt: skip


_JOB = _query("job", COUNT, "The job whose axle file is used; the usual axle's without it.")
_TRY = _query("try", COUNT, "The job's try: the tries before it then count, too.")
_FLANK = _query("flank", TEXT, "convex, concave, or empty: as seen. The kept correction's without it.")
_PHOTOS = _query("photo", TEXT, "SHA-256 of a photo, once for each.", several=True, required=True)
_BACKLASH = _query("backlash", TEXT, 'Such as "0.18 mm" or "7 thou", once for each place.', several=True)


def _does(says: str, answers: str, parameters: list[Schema], body: Schema | None = None) -> Schema:
    operation: Schema = {
        "summary": says,
        "parameters": parameters,
        "responses": {
            "200": {"description": "Done.", "content": {"application/json": {"schema": _ref(answers)}}},
            "default": {"description": "Not done, and why.",
                        "content": {"application/json": {"schema": _ref("Error")}}},
        },
    }  # fmt: skip
    if body is not None:
        operation["requestBody"] = {"required": True, "content": body}
    return operation


def openapi() -> Schema:
    """The whole description."""
    photo_body = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
    correction_body = {"application/json": {"schema": _ref("Correction")}}
    move = [_query(n, NUMBER, "Travel in mm, away from the other gear positive.") for n in ("pinion", "ring")]
    name = _query("name", TEXT, "The file's name.")
    return {
        "openapi": "3.1.0",
        "info": {"title": "contactread", "version": __version__,
                 "description": "For paired phones only: the cookie of the page is needed."},
        "paths": {
            f"{PREFIX}/photos": {"post": _does(
                "Take in and read a photo.", "Photo", [name, _JOB], photo_body)},
            f"{PREFIX}/photos/{{sha256}}": {"get": _does(
                "A photo and its reading.", "Photo", [_PHOTO, _JOB])},
            f"{PREFIX}/photos/{{sha256}}/teeth": {"get": _does(
                "The teeth as found, and what was corrected.", "Teeth", [_PHOTO, _JOB, _FLANK])},
            f"{PREFIX}/photos/{{sha256}}/correction": {"post": _does(
                "Read a photo again, corrected.", "Reading", [_PHOTO, _JOB], correction_body)},
            f"{PREFIX}/answer": {"get": _does("Advice on photos.", "Answer", [_PHOTOS, _BACKLASH, _JOB])},
            f"{PREFIX}/what-if": {"get": _does(
                "A move foreseen.", "WhatIf", [_PHOTOS, _BACKLASH, _JOB, _TRY, *move])},
            f"{PREFIX}/phone": {"get": _does("The phone that asks.", "Phone", [])},
            f"{PREFIX}/jobs": {"get": _does("The jobs, newest first.", "Jobs", [
                _query("open", {"enum": ["0", "1"]}, "1: only those that aren't closed.")])},
            f"{PREFIX}/jobs/{{job}}": {"get": _does(
                "A job with its tries and sheet.", "WholeJob", [_JOB_PATH])},
        },
        "components": {"schemas": SCHEMAS},
    }  # fmt: skip
