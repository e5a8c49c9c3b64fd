"""Which spreads rest on a source, and what a reader is told of those that do not."""

import json
import re

import pytest

from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.sources import WITHOUT_SOURCE, has_source
from tests.strategies import GOOD


@pytest.mark.parametrize(
    ("origin", "basis", "words", "sourced"),
    [
        ("held", "", {}, True),
        ("plus_minus", "", {}, False),
        ("plus_minus", "turned by dial", {}, True),
        ("plus_minus", "ASTM B251", {}, True),
        ("plus_minus", "films differ by a fifth; Judgement", {}, False),
        ("samples", "", {}, True),
        ("samples", "twelve pipes, from memory", {}, False),
        ("iso286", "", {}, True),
        ("iso2768", "", {}, True),
        ("iso2768", "by guess", {}, False),
        ("process", "", {"process": "marked_with_height_gauge"}, False),
        ("process", "the jig's own", {"process": "marked_with_height_gauge"}, False),
        ("measured", "", {"instrument": "steel_rule"}, None),
    ],
)
def test_spread_has_a_source_or_has_not(origin, basis, words, sourced):
    if sourced is None:  # as the workshop table says of the instrument
        source = workshop_table("instrument")[words["instrument"]].source
        sourced = not any(each in source for each in WITHOUT_SOURCE)
    assert has_source(origin, basis, **words) is sourced


def test_processes_marked_without_a_source_have_none():
    table = workshop_table("process")
    marked = {name for name, entry in table.items() if "no source" in entry.source}
    assert marked
    for name, entry in table.items():
        if name in marked or "from memory" in entry.source:
            assert not has_source("process", "", process=name)


def test_study_decides_it_once(read):
    study = read(GOOD.replace('"drilled"', '"drilled; judgement"'))
    found = {item.name: item.sourced for item in study.varying}
    assert found == {"hole": False, "pin": True, "warmth": False, "tilt": False}


def test_run_says_what_rests_on_nobody_s_figure(run_study, no_figures):
    ran = run_study(GOOD.replace('"drilled"', '"drilled; judgement"'))
    assert ran.exit_code == 0, ran.stderr
    flat = " ".join(ran.stdout.split())
    assert "3 of 4 spreads are without a source" in flat
    assert "Were all of them half as wide" in flat
    # Its own figure as stated is of fewer points than the answer's: not the same name for both.
    assert re.search(r"; as they are, [\d.]+ in the same, small sample\.", flat)
    with open("study-results/result.json", encoding="utf-8") as stream:
        found = json.load(stream)["robustness"]
    assert set(found["unsourced"]) == {"hole", "tilt", "warmth"}
    half, stated, twice = (found["together"][key]["estimate"] for key in ("0.50", "1.00", "2.00"))
    assert half > stated > twice


def test_where_every_spread_has_a_source_nothing_is_said(run_study, no_figures):
    text = GOOD.replace('kind    = "running"', 'kind    = "running"\nbasis = "a thermometer"')
    text = text.replace('kind               = "model"', 'kind = "model"\nbasis = "a paper"')
    ran = run_study(text)
    assert "without a source" not in ran.stdout
