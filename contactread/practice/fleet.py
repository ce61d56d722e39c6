"""The invented axles that practice asks about. None of them is a real axle; their numbers are made up."""

from __future__ import annotations

from dataclasses import replace

from contactread.axle import Axle, Carrier, EaseOff, GearSet, Limits, PinionShim

_HEAD = PinionShim("behind_head", 1.10)
_CAGE = PinionShim("under_cage", 0.90)
_SHIMS = Carrier("side_shims", 6.20, 6.60)
_RINGS = Carrier("adjusters", notch_mm=0.06)

# Juniper, bramble and the like are names of plants, so that no maker's name is met by chance.
JUNIPER = Axle(
    GearSet(11, 41, 222.0, 34.0, 32.0, 33.0, 20.0, 95.25, None, "left", "face_milled"),
    "Juniper rear axle",
    pinion_shim=_HEAD,
    carrier=_SHIMS,
    limits=Limits((0.13, 0.20), 0.05, 0.05),
    ease_off=EaseOff(0.045, 0.030),
    target="centred",
)
HAWTHORN = Axle(
    GearSet(9, 37, 250.0, 38.0, 36.0, 33.0, 20.0, 108.0, None, "left", "face_milled"),
    "Hawthorn rear axle",
    pinion_shim=_CAGE,
    carrier=_RINGS,
    limits=Limits((0.15, 0.28), 0.06, 0.06),
    ease_off=EaseOff(0.055, 0.035),
    target="centred",
)
BRAMBLE = Axle(
    GearSet(13, 42, 170.0, 30.0, 15.0, 38.6, 20.0, 63.5, None, "left", "face_milled"),
    "Bramble rear axle",
    pinion_shim=_HEAD,
    carrier=_SHIMS,
    limits=Limits((0.10, 0.18), 0.05, 0.05),
    ease_off=EaseOff(0.040, 0.028),
    target="centred",
)
SEDGE = Axle(
    GearSet(10, 41, 205.0, 31.0, 27.0, 33.0, 20.0, 88.0, 13, "left", "face_hobbed"),
    "Sedge rear axle",
    pinion_shim=_HEAD,
    carrier=_SHIMS,
    limits=Limits((0.12, 0.20), 0.05, 0.05),
    ease_off=EaseOff(0.045, 0.030),
    target="centred",
)
FERN = Axle(
    GearSet(12, 49, 400.0, 60.0, 40.0, 30.0, 20.0, 135.0, 5, "left", "face_hobbed"),
    "Fern heavy axle",
    pinion_shim=_CAGE,
    carrier=_RINGS,
    limits=Limits((0.20, 0.40), 0.08, 0.10),
    ease_off=EaseOff(0.075, 0.045),
    target="centred",
)
WILLOW = Axle(
    GearSet(14, 39, 176.9, 25.4, 0.0, 35.0, 20.0, 114.3, None, "right", "face_milled"),
    "Willow spiral bevel axle",
    pinion_shim=_CAGE,
    carrier=_SHIMS,
    limits=Limits((0.13, 0.23), 0.05, 0.05),
    ease_off=EaseOff(0.035, 0.025),
    target="centred",
)
ROWAN = Axle(
    GearSet(10, 37, 215.0, 33.0, 32.0, 33.0, 20.0, 95.25, None, "right", "face_milled"),
    "Rowan front axle",
    rotation="reverse",
    pinion_shim=_HEAD,
    carrier=_SHIMS,
    limits=Limits((0.13, 0.20), 0.05, 0.05),
    ease_off=EaseOff(0.045, 0.030),
    target="centred",
)
GORSE = Axle(
    GearSet(9, 34, 190.0, 29.0, 28.0, 32.0, 20.0, 80.0, 13, "right", "face_hobbed"),
    "Gorse front axle",
    rotation="reverse",
    pinion_shim=_CAGE,
    carrier=_RINGS,
    limits=Limits((0.13, 0.23), 0.05, 0.05),
    ease_off=EaseOff(0.045, 0.030),
    target="centred",
)
# Used sets: run in under load, so flatter along the tooth and with a longer patch.
LINDEN = replace(
    JUNIPER,
    gears=GearSet(11, 43, 235.0, 36.0, 34.0, 33.0, 20.0, 101.6, None, "left", "face_milled", "used"),
    name="Linden rear axle",
    ease_off=EaseOff(0.030, 0.024),
    limits=Limits((0.15, 0.50), 0.08, 0.06),
)
HEATHER = replace(
    HAWTHORN,
    gears=GearSet(12, 37, 300.0, 46.0, 40.0, 33.0, 20.0, 127.0, None, "left", "face_milled", "used"),
    name="Heather rear axle",
    ease_off=EaseOff(0.038, 0.028),
    limits=Limits((0.15, 0.55), 0.10, 0.08),
)

FLEET: dict[str, Axle] = {
    "juniper": JUNIPER,
    "hawthorn": HAWTHORN,
    "bramble": BRAMBLE,
    "sedge": SEDGE,
    "fern": FERN,
    "willow": WILLOW,
    "rowan": ROWAN,
    "gorse": GORSE,
    "linden": LINDEN,
    "heather": HEATHER,
}
