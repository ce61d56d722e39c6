"""The description of the API (OpenAPI 3.1)."""

from __future__ import annotations

from typing import Any

from contactread import __version__

PREFIX = "/api/v1"

Schema = dict[str, Any]


def _object(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "required": list(properties),
            "additionalProperties": False}  # fmt: skip


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


TEXT: Schema = {"type": "string"}
YES_NO: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer"}
POINT: Schema = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
LINE = _list(POINT)
SIDE = _or_null({"enum": ["drive", "coast"]})
FLANK = _or_null({"enum": ["convex", "concave"]})
CORNERS = _object(dict.fromkeys(("toe_root", "toe_top", "heel_top", "heel_root"), POINT))
_CORRECTION: Schema = {
    "flank": FLANK,
    "moved": {"type": "object", "additionalProperties": CORNERS},
    "left_out": {"type": "object", "additionalProperties": {"enum": ["struck", "unrolled"]}},
    "marked": {"type": "array", "items": CORNERS, "description": "By hand, instead of the found ones."},
}
_READING: Schema = {
    "status": {"enum": ["read", "refused", "waiting"]},
    "side": SIDE,
    "flank": FLANK,
    "refusal": _or_null(_ref("Trouble")),
    "flags": _list(_object(dict.fromkeys(("code", "short", "meaning", "next_step"), TEXT))),
    "confidence": _or_null(NUMBER),
    "pattern": _or_null({"type": "object", "description": "As in `contactread read --json`."}),
    "overlay": _or_null(_ref("Overlay")),
    "corrected": YES_NO,
}

SCHEMAS: Schema = {
    "Trouble": _object({"code": TEXT, "message": TEXT, "next_step": TEXT}),
    "Error": _object({"error": _ref("Trouble")}),
    "Overlay": _object({
        "size": POINT,
        "teeth": _list(_object({"outline": LINE, "label": LINE, "painted": YES_NO,
                                "patches": _list(LINE), "centre": _or_null(POINT)})),
        "zone": _or_null(LINE),
        "move": _or_null(LINE),
    }),
    "Reading": _object(_READING),
    "Photo": _object({"sha256": TEXT, "name": TEXT} | _READING),
    "Teeth": _object({"flank": FLANK, "size": POINT, "teeth": _list(CORNERS),
                      "correction": _object(_CORRECTION)}),
    "Correction": {"type": "object", "additionalProperties": False,
                   "properties": _CORRECTION | {"keep": YES_NO, "as_found": YES_NO}},
    "Advice": {"type": "object", "description": "As in `contactread read --json`.",
               "required": ["verdict", "headline", "moves", "diagnosis", "next_steps", "cautions"]},
    "Answer": _object({"lines": _list(TEXT), "advice": _or_null(_ref("Advice")), "lacking": TEXT}),
    "WhatIf": _object({
        "pinion_mm": NUMBER, "ring_mm": NUMBER, "moves": _list(TEXT), "backlash": TEXT, "chance": NUMBER,
        "chance_words": TEXT,
        "sides": _object(dict.fromkeys(("drive", "coast"), _object({"chart": TEXT, "words": TEXT}))),
    }),
    "Job": _object({"id": COUNT} | dict.fromkeys(
        ("vehicle", "kind", "gear_set", "condition", "opened_by", "opened_at", "state"), TEXT)),
    "Phone": _object({"name": TEXT, "key": TEXT | {"description": "What a page's forms carry."}}),
    "Jobs": _object({"jobs": _list(_ref("Job"))}),
    "Try": _object({
        "number": COUNT, "made_by": TEXT, "made_at": TEXT, "pinion_shim_mm": _or_null(NUMBER),
        "ring_side_shim_mm": _or_null(NUMBER), "opposite_side_shim_mm": _or_null(NUMBER),
        "backlash_mm": _list(NUMBER), "photos": _list(_ref("Photo")), "lines": _list(TEXT),
        "advice": _or_null(_ref("Advice")),
        "outgrown": YES_NO | {"description": "Photos, measurements or the axle file have changed since the "
                              "last advice: there is none until it is asked for again."},
    }),
    "WholeJob": _object({
        "job": _ref("Job"), "tries": _list(_ref("Try")),
        "sheet": {"type": "object", "required": ["ready", "missing", "outside", "measures"]},
    }),
}  # fmt: skip

_PHOTO = {
    "name": "sha256",
    "in": "path",
    "required": True,
    "schema": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
}
_JOB_PATH = {"name": "job", "in": "path", "required": True, "schema": COUNT}


def _query(name: str, schema: Schema, says: str, many: bool = False, required: bool = False) -> Schema:
    return {"name": name, "in": "query", "required": required, "description": says,
            "schema": _list(schema) if many else schema}  # fmt: skip


_JOB = _query("job", COUNT, "The job whose axle file is used; the usual axle's without it.")
_TRY = _query("try", COUNT, "The job's try: the tries before it then count, too.")
_FLANK = _query("flank", TEXT, "convex, concave, or empty: as seen. The kept correction's without it.")
_PHOTOS = _query("photo", TEXT, "SHA-256 of a photo, once for each.", many=True, required=True)
_BACKLASH = _query("backlash", TEXT, 'Such as "0.18 mm" or "7 thou", once for each place.', many=True)


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
