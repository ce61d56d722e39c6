"""The shapes of `read`, `predict`, `axle show` and what explains: JSON Schemas by name."""

from __future__ import annotations

from typing import get_args

from contactread.advice.answer import Verdict
from contactread.axle import Axle
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

_EDGE = one_of("toe", "heel", "top", "root")
_FLANK = told("The ring-gear flank.", one_of("convex", "concave"))
_ROLE = one_of("drive", "coast")
LENGTH = record(mm=told("In millimetres.", NUMBER), thou=told("In thousandths of an inch.", NUMBER))
_TROUBLE = record(
    code=told("Stable name.", TEXT),
    message=told("What happened and why.", TEXT),
    next_step=told("What to do.", TEXT),
)
STATEMENT = record(
    text=told("The sentence.", TEXT),
    rule=told("Its rule in shared/rules.toml.", TEXT),
    sources=told("Ids of shared/sources.toml.", many(TEXT)),
)
_PATCH = {
    "centroid": told("Centre [u, v]: u 0 toe to 1 heel, v 0 root to 1 top.", PAIR),
    "length": told("5 and 95 % points of the contact area along u.", PAIR),
    "height": told("5 and 95 % points along v.", PAIR),
    "area_fraction": told("Contact area over flank area.", SHARE),
    "tilt_deg": told("Long axis against the length; positive where the heel end lies higher.", NUMBER),
    "runs_off": told("Edges that cut the patch off.", many(_EDGE)),
    "clear": told(
        "Clear share of the flank at each edge.",
        record(**dict.fromkeys(("toe", "heel", "top", "root"), NUMBER)),
    ),
}
_READ_PATCH = _PATCH | {
    "sigma": told("Standard uncertainty of the centre [u, v].", PAIR),
    "hard_edges": told("Edges with a narrow hard line.", many(_EDGE)),
    "margins_mm": told("Clear margin to each edge; null where the tooth's size isn't known.",
                        or_null(by_name(NUMBER))),
}  # fmt: skip
_CORNERS = record(**{
    name: told("Pixels [x, y] of the upright picture.", PAIR)
    for name in ("toe_root", "toe_top", "heel_top", "heel_root")
})  # fmt: skip
_TOOTH = record(
    corners_px=told("The flank's corners.", _CORNERS),
    painted=told("Compound is on it.", YES_NO),
    wet=told("Painted, never rolled: not measured.", YES_NO),
    confidence=told("That it is a flank, 0 to 1.", SHARE),
    pattern=told("Its patch; null where none was measured.", or_null(record(**_READ_PATCH))),
)
_ONE_SIDE = _READ_PATCH | {
    "interval_90": told("Where nine centres in ten lie; null where it isn't known.",
                         or_null(record(length=PAIR, height=PAIR))),
    "spread": told("Scatter of the teeth's centres.", record(length=NUMBER, height=NUMBER)),
    "wave": told("Swing [u, v] once per turn; null where too few teeth show it.", or_null(PAIR)),
}  # fmt: skip


def _photo(other: Schema) -> Schema:
    fields = {
        "path": told("As it was given.", TEXT),
        "status": told("Whether it was read.", one_of("read", "refused")),
        "refusal": told("Why it was refused.", or_null(_TROUBLE)),
        "flank": or_null(_FLANK),
        "side": told("What the flank is in this axle.", or_null(_ROLE)),
        "confidence": told("Chance that side and centre are right.", or_null(SHARE)),
        "flags": told("Signs that the reading carries: contactread flags.", many(TEXT)),
        "sha256": told("Of the file.", TEXT),
        "size_px": told("Width and height.", PAIR),
        "compound": told("Colour of the compound.", TEXT),
        "polarity": told("Where it touched.", one_of("pressed_away", "printed")),
        "teeth": told("Every tooth that was found.", many(_TOOTH)),
        "pattern": told("The patch that the painted teeth share.", or_null(record(**_ONE_SIDE))),
        "other": told("The other side's reading, where one photo shows both.", other),
        "marked": told("The marked-up picture.", or_null(TEXT)),
    }
    always = ("path", "status", "refusal", "flank", "side", "confidence", "flags", "teeth", "pattern")
    return record(**fields) | {"required": list(always)}


_READING = _photo(or_null(_photo({"type": "null"})))
_SIDE = record(
    flank=_FLANK,
    confidence=told("Of the joined reading.", SHARE),
    pattern=told("The joined patch.", record(**_READ_PATCH)),
    photos=told("Photos that count.", many(TEXT)),
    set_aside=told("Photos that disagree with the others.", many(TEXT)),
)
_PLACE = record(centroid=told("Centre [u, v].", PAIR), sigma=told("Its standard deviation.", PAIR))
_EXPECTED = record(
    drive=_PLACE,
    coast=_PLACE,
    backlash=told("At the dial.", or_null(record(**LENGTH["properties"], sigma_mm=NUMBER))),
    chance=told("That all is right there; null where none was computed.", or_null(SHARE)),
)
_SHIM = record(
    part=told(
        "What the hand changes.", one_of("pinion_shim", "ring_side_shim", "opposite_shim", "adjusters")
    ),
    change=told("Thicker is positive; null for adjusters.", or_null(LENGTH)),
    new=told("Thickness to fit, where the present one is known.", or_null(LENGTH)),
    notches=told("Of both adjusters; away from the pinion is positive.", or_null(NUMBER)),
)
_MOVE = record(
    member=told("What moves.", one_of("pinion", "ring_gear")),
    direction=told("Against the other gear.", one_of("toward", "away")),
    travel=told("Away is positive; null where only the direction is told.", or_null(LENGTH)),
    shims=told("What the hand changes.", many(_SHIM)),
    how=told("The sentences that say it.", many(STATEMENT)),
    expected=told("After this move and those before it.", or_null(_EXPECTED)),
    between=told("Of a rough guess: the best travel lies between with four chances of five.",
                 or_null(many(LENGTH))),
)  # fmt: skip
ADVICE = record(
    verdict=told("The answer's kind.", one_of(*get_args(Verdict))),
    headline=told("What to do, in one sentence.", TEXT),
    answer=told("What to do, line by line.", many(TEXT)),
    confidence=told("Chance that all is right, or that the suspected mix-up happened.", or_null(SHARE)),
    diagnosis=told("What the patterns say.", many(STATEMENT)),
    moves=told("In the order of work.", many(_MOVE)),
    now=told("Where the set-up is believed to stand.", or_null(_EXPECTED)),
    alternatives=told("Where publications disagree.", many(STATEMENT)),
    inspections=told("What to look at.", many(TEXT)),
    next_steps=told("What to measure or do next.", many(STATEMENT)),
    cautions=told("In short.", many(TEXT)),
    reason=told("Why there is no move, or none with an amount.", TEXT),
    surer=told("What would raise the chance most.", many(STATEMENT)),
    cannot_know=told("What this answer leaves open.", TEXT),
)
_ESTIMATES = told("What had to be estimated, by name.",
                   by_name(record(value=NUMBER, standard_deviation=NUMBER)))  # fmt: skip
_READ = record(
    schema=NUMBERED,
    photos=told("One for each reading.", many(_READING)),
    sides=told(
        "All photos of one side, joined; only those that were read.",
        record(drive=_SIDE, coast=_SIDE) | {"required": []},
    ),
    axle=told("The axle file.", or_null(TEXT)),
    backlash_mm=told("As given.", many(NUMBER)),
    job=told("Number of the job into which it was filed.", or_null(COUNT)),
    advice=told("The next move.", or_null(ADVICE)),
    no_advice=told("Why there is no advice.", or_null(TEXT)),
    no_advice_code=told("Stable name of why there is none.", or_null(TEXT)),
    answer=told("The boxed answer, line by line.", many(TEXT)),
    estimated=_ESTIMATES,
)
_FORESEEN = record(
    flank=_FLANK,
    before=told("Null where nothing touches.", or_null(record(**_PATCH))),
    after=told("Null where nothing touches.", or_null(record(**_PATCH))),
    shift=told("Of the centre [u, v].", or_null(PAIR)),
    shift_standard_deviation=told("Of the shift.", PAIR),
    standard_deviation_after=told("Of the centre after the move.", PAIR),
)
_PREDICT = record(
    schema=NUMBERED,
    axle=told("The axle's name.", TEXT),
    pinion_move_mm=told("Away from the ring gear is positive.", NUMBER),
    ring_move_mm=told("Away from the pinion is positive.", NUMBER),
    place_before_mm=told("Against where patterns are centred.", record(pinion=NUMBER, ring=NUMBER)),
    drive=_FORESEEN,
    coast=_FORESEEN,
    backlash_mm=told("At the dial.", record(
        before=NUMBER, after=NUMBER, change=NUMBER, change_standard_deviation=NUMBER,
        before_is=told("Where the first comes from.", one_of("measured", "limits", "supposed")))),
    film_mm=told("Thickness of the compound that was supposed.", NUMBER),
    ease_off_mm=told("Relief of the flanks.", record(
        lengthwise=NUMBER, profile=NUMBER, bias=NUMBER, given=told("By the axle file.", YES_NO))),
    fit=told("With --reading: how badly the gears explain it.", record(misfit=NUMBER)),
    methods=told("By cutting method, where it isn't given.", by_name(record(
        chance=SHARE, shift=told("By side.", by_name(or_null(PAIR)))))),
    cutting=told("The cutting method.", record(face_hobbed=YES_NO, given=YES_NO)),
    estimated=_ESTIMATES,
)  # fmt: skip
_PREDICT["required"] = [name for name in _PREDICT["required"] if name not in ("fit", "methods")]
_FLAG = record(
    code=told("Stable name.", TEXT),
    short=told("In a few words.", TEXT),
    meaning=told("What it is and why it matters.", TEXT),
    next_step=told("What to do.", TEXT),
    refuses=told("A photo with it isn't read.", YES_NO),
)


_AXLE = record(
    schema=NUMBERED,
    axle=told("As the file says it: mm, N·m, degrees; null where it says nothing.",
               of(Axle)),
    estimated=_ESTIMATES,
    face_hobbed=told("Null where the cutting method isn't known.", or_null(YES_NO)),
)  # fmt: skip

READING: dict[str, Schema] = {
    "read": _READ,
    "predict": _PREDICT,
    "axle": _AXLE,
    "error": record(error=told("In place of any other output, where a command fails.", _TROUBLE)),
    "flags": record(schema=NUMBERED, flags=many(_FLAG)),
    "cautions": record(schema=NUMBERED, cautions=many(STATEMENT)),
    "settings": record(schema=NUMBERED, settings=told("By name; null where unset.", by_name(or_null(TEXT)))),
}
