"""The shared facts: every id that is named exists, every rule says what the code needs of it."""

from __future__ import annotations

import pytest

from contactread.advice.rules import full_cautions, short_cautions
from contactread.axle import Axle, GearSet
from contactread.belief.targets import target_for
from contactread.facts import facts

TOPICS = {"order", "depth", "length", "backlash", "shim", "used", "fault", "reading", "effect"}


@pytest.mark.parametrize("name", ["rules", "targets", "cautions", "glossary"])
def test_every_named_source_exists(name: str) -> None:
    for key, entry in facts(name).items():
        for source in [*entry["sources"], *entry.get("contradicted_by", [])]:
            assert source in facts("sources"), f"{name}: {key} names {source}"


def test_every_source_says_what_it_is() -> None:
    for key, source in facts("sources").items():
        assert source["title"] and source["says"], key
        assert source["confidence"] in ("seen", "doubtful", "derived", "memory"), key


def test_rules_are_complete() -> None:
    for key, rule in facts("rules").items():
        assert rule["topic"] in TOPICS, key
        assert rule["says"].endswith("."), key
        assert rule["holds"] in ("always", "mostly", "depends", "practice"), key
        assert ("contradicted_by" in rule) == ("instead" in rule), key
        if rule.get("means") == "fault":
            assert rule["inspect"], key


@pytest.mark.parametrize("name", facts("targets"))
def test_aims_lie_inside_their_zones(name: str) -> None:
    target = target_for(Axle(GearSet(11, 41, 220.0), target=name))
    for zone in (target.drive, target.coast):
        assert zone.u[0] < zone.aim[0] < zone.u[1]
        assert zone.v[0] < zone.aim[1] < zone.v[1]


def test_a_used_set_never_gets_a_new_set_target() -> None:
    axle = Axle(GearSet(11, 41, 220.0, condition="used"), target="toe_of_middle")
    assert target_for(axle).name == "used"


def test_no_caution_prints_a_torque() -> None:
    for text in [*short_cautions(), *(s.text for s in full_cautions())]:
        assert "N·m" not in text and "lb-ft" not in text and "ft-lb" not in text
