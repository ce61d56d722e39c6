"""JSON Schemas of what `--json` prints: each field with its meaning, and no field besides.

A test holds them against real output; the reference's tables are made from them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import is_dataclass
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from contactread.advice.answer import Verdict
from contactread.axle import Axle
from contactread.errors import ContactreadError

Schema = dict[str, Any]


def _told(says: str, schema: Schema) -> Schema:
    return {"description": says, **schema}


def _object(**fields: Schema) -> Schema:
    """An object that has all of these fields and no other."""
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _list(schema: Schema, count: int | None = None) -> Schema:
    return {"type": "array", "items": schema} | (
        {} if count is None else {"minItems": count, "maxItems": count}
    )


def _by_name(schema: Schema) -> Schema:
    return {"type": "object", "additionalProperties": schema}


def _one_of(*words: str) -> Schema:
    return {"enum": list(words)}


_TEXT: Schema = {"type": "string"}
_NUMBER: Schema = {"type": "number"}
_COUNT: Schema = {"type": "integer"}
_YES_NO: Schema = {"type": "boolean"}
_SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
_PAIR = _list(_NUMBER, 2)
_NUMBERED = _told("Version of this shape; fields may be added without a new one.", {"const": 1})
_EDGE = _one_of("toe", "heel", "top", "root")
_FLANK = _told("The ring-gear flank.", _one_of("convex", "concave"))
_ROLE = _one_of("drive", "coast")
_LENGTH = _object(mm=_told("In millimetres.", _NUMBER), thou=_told("In thousandths of an inch.", _NUMBER))
_TROUBLE = _object(
    code=_told("Stable name.", _TEXT),
    message=_told("What happened and why.", _TEXT),
    next_step=_told("What to do.", _TEXT),
)
_STATEMENT = _object(
    text=_told("The sentence.", _TEXT),
    rule=_told("Its rule in shared/rules.toml.", _TEXT),
    sources=_told("Ids of shared/sources.toml.", _list(_TEXT)),
)
_PATCH = {
    "centroid": _told("Centre [u, v]: u 0 toe to 1 heel, v 0 root to 1 top.", _PAIR),
    "length": _told("5 and 95 % points of the contact area along u.", _PAIR),
    "height": _told("5 and 95 % points along v.", _PAIR),
    "area_fraction": _told("Contact area over flank area.", _SHARE),
    "tilt_deg": _told("Long axis against the length; positive where the heel end lies higher.", _NUMBER),
    "runs_off": _told("Edges that cut the patch off.", _list(_EDGE)),
    "clear": _told(
        "Clear share of the flank at each edge.",
        _object(**dict.fromkeys(("toe", "heel", "top", "root"), _NUMBER)),
    ),
}
_READ_PATCH = _PATCH | {
    "sigma": _told("Standard uncertainty of the centre [u, v].", _PAIR),
    "hard_edges": _told("Edges with a narrow hard line.", _list(_EDGE)),
    "margins_mm": _told("Clear margin to each edge; null where the tooth's size isn't known.",
                        _or_null(_by_name(_NUMBER))),
}  # fmt: skip
_CORNERS = _object(**{
    name: _told("Pixels [x, y] of the upright picture.", _PAIR)
    for name in ("toe_root", "toe_top", "heel_top", "heel_root")
})  # fmt: skip
_TOOTH = _object(
    corners_px=_told("The flank's corners.", _CORNERS),
    painted=_told("Compound is on it.", _YES_NO),
    wet=_told("Painted, never rolled: not measured.", _YES_NO),
    confidence=_told("That it is a flank, 0 to 1.", _SHARE),
    pattern=_told("Its patch; null where none was measured.", _or_null(_object(**_READ_PATCH))),
)
_ONE_SIDE = _READ_PATCH | {
    "interval_90": _told("Where nine centres in ten lie; null where it isn't known.",
                         _or_null(_object(length=_PAIR, height=_PAIR))),
    "spread": _told("Scatter of the teeth's centres.", _object(length=_NUMBER, height=_NUMBER)),
    "wave": _told("Swing [u, v] once per turn; null where too few teeth show it.", _or_null(_PAIR)),
}  # fmt: skip


def _photo(other: Schema) -> Schema:
    fields = {
        "path": _told("As it was given.", _TEXT),
        "status": _told("Whether it was read.", _one_of("read", "refused")),
        "refusal": _told("Why it was refused.", _or_null(_TROUBLE)),
        "flank": _or_null(_FLANK),
        "side": _told("What the flank is in this axle.", _or_null(_ROLE)),
        "confidence": _told("Chance that side and centre are right.", _or_null(_SHARE)),
        "flags": _told("Signs that the reading carries: contactread flags.", _list(_TEXT)),
        "sha256": _told("Of the file.", _TEXT),
        "size_px": _told("Width and height.", _PAIR),
        "compound": _told("Colour of the compound.", _TEXT),
        "polarity": _told("Where it touched.", _one_of("pressed_away", "printed")),
        "teeth": _told("Every tooth that was found.", _list(_TOOTH)),
        "pattern": _told("The patch that the painted teeth share.", _or_null(_object(**_ONE_SIDE))),
        "other": _told("The other side's reading, where one photo shows both.", other),
        "marked": _told("The marked-up picture.", _or_null(_TEXT)),
    }
    always = ("path", "status", "refusal", "flank", "side", "confidence", "flags", "teeth", "pattern")
    return _object(**fields) | {"required": list(always)}


_READING = _photo(_or_null(_photo({"type": "null"})))
_SIDE = _object(
    flank=_FLANK,
    confidence=_told("Of the joined reading.", _SHARE),
    pattern=_told("The joined patch.", _object(**_READ_PATCH)),
    photos=_told("Photos that count.", _list(_TEXT)),
    set_aside=_told("Photos that disagree with the others.", _list(_TEXT)),
)
_PLACE = _object(centroid=_told("Centre [u, v].", _PAIR), sigma=_told("Its standard deviation.", _PAIR))
_EXPECTED = _object(
    drive=_PLACE,
    coast=_PLACE,
    backlash=_told("At the dial.", _or_null(_object(**_LENGTH["properties"], sigma_mm=_NUMBER))),
    chance=_told("That all is right there; null where none was computed.", _or_null(_SHARE)),
)
_SHIM = _object(
    part=_told(
        "What the hand changes.", _one_of("pinion_shim", "ring_side_shim", "opposite_shim", "adjusters")
    ),
    change=_told("Thicker is positive; null for adjusters.", _or_null(_LENGTH)),
    new=_told("Thickness to fit, where the present one is known.", _or_null(_LENGTH)),
    notches=_told("Of both adjusters; away from the pinion is positive.", _or_null(_NUMBER)),
)
_MOVE = _object(
    member=_told("What moves.", _one_of("pinion", "ring_gear")),
    direction=_told("Against the other gear.", _one_of("toward", "away")),
    travel=_told("Away is positive; null where only the direction is told.", _or_null(_LENGTH)),
    shims=_told("What the hand changes.", _list(_SHIM)),
    how=_told("The sentences that say it.", _list(_STATEMENT)),
    expected=_told("After this move and those before it.", _or_null(_EXPECTED)),
)
_ADVICE = _object(
    verdict=_told("The answer's kind.", _one_of(*get_args(Verdict))),
    headline=_told("What to do, in one sentence.", _TEXT),
    answer=_told("What to do, line by line.", _list(_TEXT)),
    confidence=_told("Chance that all is right, or that the suspected mix-up happened.", _or_null(_SHARE)),
    diagnosis=_told("What the patterns say.", _list(_STATEMENT)),
    moves=_told("In the order of work.", _list(_MOVE)),
    now=_told("Where the set-up is believed to stand.", _or_null(_EXPECTED)),
    alternatives=_told("Where publications disagree.", _list(_STATEMENT)),
    inspections=_told("What to look at.", _list(_TEXT)),
    next_steps=_told("What to measure or do next.", _list(_STATEMENT)),
    cautions=_told("In short.", _list(_TEXT)),
    reason=_told("Why there is no move.", _TEXT),
    surer=_told("What would raise the chance most.", _list(_STATEMENT)),
    cannot_know=_told("What this answer leaves open.", _TEXT),
)
_ESTIMATES = _told("What had to be estimated, by name.",
                   _by_name(_object(value=_NUMBER, standard_deviation=_NUMBER)))  # fmt: skip
_READ = _object(
    schema=_NUMBERED,
    photos=_told("One for each reading.", _list(_READING)),
    sides=_told(
        "All photos of one side, joined; only those that were read.",
        _object(drive=_SIDE, coast=_SIDE) | {"required": []},
    ),
    axle=_told("The axle file.", _or_null(_TEXT)),
    backlash_mm=_told("As given.", _list(_NUMBER)),
    job=_told("Number of the job into which it was filed.", _or_null(_COUNT)),
    advice=_told("The next move.", _or_null(_ADVICE)),
    no_advice=_told("Why there is no advice.", _or_null(_TEXT)),
    answer=_told("The boxed answer, line by line.", _list(_TEXT)),
    estimated=_ESTIMATES,
)
_FORESEEN = _object(
    flank=_FLANK,
    before=_told("Null where nothing touches.", _or_null(_object(**_PATCH))),
    after=_told("Null where nothing touches.", _or_null(_object(**_PATCH))),
    shift=_told("Of the centre [u, v].", _or_null(_PAIR)),
    shift_standard_deviation=_told("Of the shift.", _PAIR),
    standard_deviation_after=_told("Of the centre after the move.", _PAIR),
)
_PREDICT = _object(
    schema=_NUMBERED,
    axle=_told("The axle's name.", _TEXT),
    pinion_move_mm=_told("Away from the ring gear is positive.", _NUMBER),
    ring_move_mm=_told("Away from the pinion is positive.", _NUMBER),
    place_before_mm=_told("Against where patterns are centred.", _object(pinion=_NUMBER, ring=_NUMBER)),
    drive=_FORESEEN,
    coast=_FORESEEN,
    backlash_mm=_told("At the dial.", _object(
        before=_NUMBER, after=_NUMBER, change=_NUMBER, change_standard_deviation=_NUMBER,
        before_is=_told("Where the first comes from.", _one_of("measured", "limits", "supposed")))),
    film_mm=_told("Thickness of the compound that was supposed.", _NUMBER),
    ease_off_mm=_told("Relief of the flanks.", _object(
        lengthwise=_NUMBER, profile=_NUMBER, bias=_NUMBER, given=_told("By the axle file.", _YES_NO))),
    fit=_told("With --reading: how badly the gears explain it.", _object(misfit=_NUMBER)),
    methods=_told("By cutting method, where it isn't given.", _by_name(_object(
        chance=_SHARE, shift=_told("By side.", _by_name(_or_null(_PAIR)))))),
    cutting=_told("The cutting method.", _object(face_hobbed=_YES_NO, given=_YES_NO)),
    estimated=_ESTIMATES,
)  # fmt: skip
_PREDICT["required"] = [name for name in _PREDICT["required"] if name not in ("fit", "methods")]
_FLAG = _object(
    code=_told("Stable name.", _TEXT),
    short=_told("In a few words.", _TEXT),
    meaning=_told("What it is and why it matters.", _TEXT),
    next_step=_told("What to do.", _TEXT),
    refuses=_told("A photo with it isn't read.", _YES_NO),
)


def _of(kind: Any) -> Schema:
    """The schema of a value as `asdict` leaves it: a record of fields, a choice, a list, a plain value."""
    if is_dataclass(kind):
        return _object(**{name: _of(hint) for name, hint in get_type_hints(kind).items()})
    if get_origin(kind) is Literal:
        return _one_of(*get_args(kind))
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        return _list(_of(inner[0])) if inner[-1] is Ellipsis else _list(_of(inner[0]), len(inner))
    if get_origin(kind) in (Union, UnionType):
        return {"anyOf": [_of(each) for each in get_args(kind)]}
    return {str: _TEXT, float: _NUMBER, int: _COUNT, bool: _YES_NO, type(None): {"type": "null"}}[kind]


_AXLE = _object(
    schema=_NUMBERED,
    axle=_told("As the file says it: mm, N·m, degrees; null where it says nothing.",
               _of(Axle)),
    estimated=_ESTIMATES,
    face_hobbed=_told("Null where the cutting method isn't known.", _or_null(_YES_NO)),
)  # fmt: skip

SCHEMAS: dict[str, Schema] = {
    "read": _READ,
    "predict": _PREDICT,
    "axle": _AXLE,
    "error": _object(error=_told("In place of any other output, where a command fails.", _TROUBLE)),
    "flags": _object(schema=_NUMBERED, flags=_list(_FLAG)),
    "cautions": _object(schema=_NUMBERED, cautions=_list(_STATEMENT)),
    "settings": _object(
        schema=_NUMBERED, settings=_told("By name; null where unset.", _by_name(_or_null(_TEXT)))
    ),
}


def schema_of(name: str) -> Schema:
    """The whole schema. Raises `ContactreadError` schema-missing."""
    if name not in SCHEMAS:
        raise ContactreadError(
            "schema-missing", f"There is no schema '{name[:40]}'.", f"They are: {', '.join(SCHEMAS)}."
        )
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": f"contactread {name} --json"}
    return head | SCHEMAS[name]


def schema_text(name: str) -> str:
    """The schema as JSON. Raises `ContactreadError` schema-missing."""
    return json.dumps(schema_of(name), indent=1) + "\n"


def fields(schema: Schema, at: str = "") -> Iterator[tuple[str, str, str]]:
    """Every field below: its path (photos[].side), its type in words, its meaning."""
    for inner in schema.get("anyOf", ()):
        yield from fields(inner, at)
    if "items" in schema:
        yield from fields(schema["items"], f"{at}[]")
    if isinstance(schema.get("additionalProperties"), dict):
        yield from fields(schema["additionalProperties"], f"{at}.NAME")
    for name, field in schema.get("properties", {}).items():
        path = f"{at}.{name}".lstrip(".")
        yield path, _type(field), field.get("description", "")
        yield from fields(field, path)


def _type(schema: Schema) -> str:
    if "anyOf" in schema:
        return " or ".join(_type(each) for each in schema["anyOf"])
    if "enum" in schema:
        return ", ".join(schema["enum"])
    if "const" in schema:
        return str(schema["const"])
    if schema.get("type") == "array":
        return "list"
    words = {"string": "text", "boolean": "true or false", "integer": "whole number", "object": "object"}
    kind = str(schema.get("type", ""))
    return words.get(kind, kind)
