"""``tighten``: what can be held closer and how, what is said, the command and what it leaves."""

import json
from math import log

import pytest

from sensitivity.answers.redraw.find import find_redraw
from sensitivity.answers.redraw.words import redraw_verdict
from sensitivity.answers.tighten.answer import TightenAnswer
from sensitivity.answers.tighten.document import tighten_body as tighten_document
from sensitivity.answers.tighten.find import price_tolerances as tighten
from sensitivity.answers.tighten.words import (
    halving_verdict,
    next_after_tightening,
    set_verdict,
    unpriced_in_words,
)
from sensitivity.engine.options import RunOptions
from sensitivity.errors import CallError
from sensitivity.pricing.closer_work import FACTORS, dimensions_of
from sensitivity.spreads.spread import standard_deviation
from sensitivity.spreads.workshop import (
    alternatives,
    closer_processes,
    effort_trend,
    quantity_of,
    workshop_table,
)
from tests.strategies import GOOD

ONE = RunOptions(workers=1)

SHOP = """\
title  = "A pin in a hole, made in the shop"
models = ["pin_fit"]

[inputs.hole]
nominal = "5 mm"
process = "drilled_with_a_hand_drill"

[inputs.pin]
nominal = "4.9 mm"
process = "turned_by_dial"

[inputs.depth]
nominal    = "20 mm"
plus_minus = "0.3 mm"

[inputs.tilt]
nominal = "0 deg"
process = "squared_by_eye"

[inputs.share]
nominal    = 0.5
plus_minus = 0.1

[inputs.warmth]
nominal = "20 degC"
between = ["5 degC", "40 degC"]
kind    = "running"

[limits.play]
at_least = "0.02 mm"
at_most  = "0.25 mm"

[limits.lean]
at_least = "-1 deg"
at_most  = "1.5 deg"

[sampling]
seed       = 1
replicates = 16
points     = 256
"""


def by_name(study):
    return {dimension.name: dimension for dimension in dimensions_of(study)}


# The workshop table


def test_lists_name_what_is_in_the_table():
    table = workshop_table("process") | workshop_table("instrument")
    for row in alternatives():
        assert set(row.names) <= table.keys()
        assert len({table[name].quantity for name in row.names}) == 1


def test_closer_processes_are_of_the_size_and_never_wider():
    found = closer_processes("drilled_with_a_hand_drill", 5.0, "mm")
    assert [entry.name for entry, _ in found] == [
        "drilled_3_to_6_mm",
        "drilled_then_opened_out",
        "reamed_by_hand",
        "reamed_hole_h7",
    ]
    assert [entry.name for entry, _ in closer_processes("drilled_with_a_hand_drill", 2, "mm")] == [
        "drilled_1_to_3_mm"
    ]
    assert closer_processes("drilled_with_a_hand_drill", 20.0, "mm") == ()
    for name, entry in workshop_table("process").items():
        unit = {"length": "mm", "angle": "deg", "ratio": ""}[entry.quantity]
        closer = closer_processes(name, 5.0, unit)
        deviations = [standard_deviation(spread) for _, spread in closer]
        minutes = [other.minutes_for_one for other, _ in closer]
        assert deviations == sorted(set(deviations), reverse=True)
        assert minutes == sorted(set(minutes))
        assert all(other.quantity == entry.quantity for other, _ in closer)


def test_closer_processes_in_another_unit_are_the_same():
    metric = closer_processes("filed_to_a_height_gauge_line", 10.0, "mm")
    imperial = closer_processes("filed_to_a_height_gauge_line", 10.0 / 25.4, "in")
    assert [entry.name for entry, _ in metric] == [entry.name for entry, _ in imperial]
    for (_, one), (_, other) in zip(metric, imperial, strict=True):
        assert standard_deviation(one) == pytest.approx(25.4 * standard_deviation(other))


def test_closer_work_takes_longer_on_the_trend_and_none_is_read_off_its_ends():
    for quantity in ("length", "angle"):
        trend = effort_trend(quantity)
        middle = (trend.closest * trend.loosest) ** 0.5
        # Halving a dimension costs more than nothing and less than the square of the halving.
        assert 1.2 < trend.minutes(0.5 * middle) / trend.minutes(middle) < 4.0
        assert trend.minutes(0.9 * trend.closest) != trend.minutes(0.9 * trend.closest)
        assert trend.minutes(1.1 * trend.loosest) != trend.minutes(1.1 * trend.loosest)
    assert effort_trend("ratio") is None


def test_trend_goes_through_the_middle_of_the_table():
    """Least squares leaves as much above as below, in the logarithm."""
    table, trend = workshop_table("process"), effort_trend("angle")
    apart = []
    for row in alternatives():
        for name in row.names:
            entry = table.get(name)
            if entry is not None and entry.quantity == "angle":
                apart.append(log(entry.minutes_for_one / trend.minutes(entry.high / 3.0)))
    assert sum(apart) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("unit", "quantity"),
    [
        ("mm", "length"),
        ("in", "length"),
        ("deg", "angle"),
        ("", "ratio"),
        ("%", "ratio"),
        ("bar", ""),
    ],
)
def test_quantity_of_a_unit(unit, quantity):
    assert quantity_of(unit) == quantity


# The dimensions


def test_build_inputs_alone_and_how_each_is_held_closer(read):
    found = by_name(read(SHOP))
    assert list(found) == ["hole", "pin", "depth", "tilt", "share"]
    assert [choice.process for choice in found["pin"].choices] == ["turned_with_micrometer"]
    assert found["pin"].choices[0].minutes == 12 - 6
    assert [choice.factor for choice in found["depth"].choices] == list(FACTORS)
    assert found["share"].choices == ()
    assert "no process" in found["share"].note
    for dimension in found.values():
        minutes = [choice.minutes for choice in dimension.choices]
        assert minutes == sorted(minutes)
        for choice in dimension.choices:
            for item in dimension.inputs:
                assert standard_deviation(choice.spreads[item.name]) < item.standard_deviation


def test_bought_parts_cannot_be_held_closer(read):
    text = SHOP.replace('"turned_by_dial"', '"bought_copper_tube_outside_diameter"')
    pin = by_name(read(text))["pin"]
    assert pin.choices == ()
    assert 'nothing closer than "bought copper tube outside diameter"' in pin.note


def test_what_is_measured_is_made(read):
    text = SHOP.replace(
        'process = "turned_by_dial"', 'measured = "4.91 mm"\ninstrument = "micrometer"'
    )
    assert "pin" not in by_name(read(text))


def test_off_the_table_is_left_out(read):
    text = SHOP.replace('plus_minus = "0.3 mm"', 'plus_minus = "9 mm"')
    depth = by_name(read(text))["depth"]
    assert depth.choices == ()
    assert "off the workshop table" in depth.note


GROUPED = SHOP.replace('process = "turned_by_dial"', 'process = "milled_by_dial"\ngroup = "sizes"')


def test_alike_and_of_one_group_are_tightened_together(read):
    text = GROUPED.replace('plus_minus = "0.3 mm"', 'process = "milled_by_dial"\ngroup = "sizes"')
    both = by_name(read(text))["sizes"]
    assert [item.name for item in both.inputs] == ["pin", "depth"]
    (choice,) = both.choices
    assert set(choice.spreads) == {"pin", "depth"}
    assert choice.minutes == 2 * (14 - 9)
    document = tighten_document(tighten(read(text), options=ONE))
    assert ["pin", "depth"] in [row["inputs"] for row in document["halved"]]


def test_unlike_ones_of_one_group_are_not(read):
    text = GROUPED.replace('plus_minus = "0.3 mm"', 'process = "parted_off"\ngroup = "sizes"')
    assert {"pin", "depth"} <= by_name(read(text)).keys()
    assert "sizes" not in by_name(read(text))


# What is said


def test_halved_rows_are_ranked(read):
    answer = tighten(read(SHOP), options=ONE)
    priced = [row for row in answer.halved if row.more is not None]
    gains = [row.more.value for row in priced]
    assert gains == sorted(gains, reverse=True)
    assert [row.worth for row in priced] == [row.more for row in priced]
    others = answer.halved[len(priced) :]
    assert all(row.more is None and row.worth == row.gain for row in others)
    assert answer.found is None
    assert halving_verdict(answer).startswith("Halving")
    document = TightenAnswer(answer).to_dict()
    assert document["set"] is None
    assert document["verdict"] == halving_verdict(answer)
    assert document["works_as_drawn"]["estimate"] == answer.levels.value
    assert document["works_as_drawn"]["keeps"] == 0.99


def test_what_gains_next_to_nothing_at_a_moment_is_not_priced_in_parts(read):
    extra = "".join(
        f'\n[inputs.{name}]\nplus_minus = "{size}"\n'
        for name, size in (("flow", "0.1 ml/min"), ("damping", "0.05"))
    )
    text = SHOP.replace('models = ["pin_fit"]', 'models = ["pin_fit", "rattle_heard"]')
    text = text.replace("\n[inputs.warmth]", extra + "\n[inputs.warmth]")
    answer = tighten(read(text), options=ONE)
    assert len(answer.halved) == 7
    best = max(row.gain.value for row in answer.halved)
    surely_less = [row.gain.high < 0.05 * best for row in answer.halved]
    assert [row.more is None for row in answer.halved] == surely_less
    assert any(surely_less)
    assert not all(surely_less)
    empty = [row for row in answer.halved if row.more is None]
    assert unpriced_in_words(answer, empty).startswith("Left empty: ")
    assert not unpriced_in_words(answer, [row for row in answer.halved if row.more is not None])
    screened = sorted(answer.halved, key=lambda row: -row.gain.value)
    assert {row.dimension.name for row in screened} == {row.dimension.name for row in answer.halved}


@pytest.mark.parametrize("target", [0.5, 0.9, 0.95, 0.999999])
def test_a_set_is_reported_only_if_its_fresh_run_reaches(target, read):
    answer = tighten(read(SHOP), target=target, options=ONE)
    found, said = answer.found, set_verdict(answer)
    assert found.reached == (found.works.low >= target)
    assert found.minutes == pytest.approx(sum(step.choice.minutes for step in found.steps))
    assert found.overall == (found.steps[-1].overall if found.steps else found.as_drawn.share)
    assert found.works == (found.steps[-1].works if found.steps else found.as_drawn.works)
    # A part that works keeps nearly always, so fewer work than keep at a moment allows.
    assert 0.99 * found.works.low <= found.overall.high
    if found.reached:
        assert "No set" not in said
        assert tighten_document(answer)["set"]["in_the_way"] == ""
    else:
        assert said.startswith("No set of tolerances tried")
        assert "spiritlevel redraw" in next_after_tightening(answer)
        assert found.in_the_way in ("play", "lean")


def test_nothing_to_do_is_said(read):
    answer = tighten(read(SHOP), target=0.1, options=ONE)
    assert answer.found.steps == ()
    assert "nothing need be closer" in set_verdict(answer)
    assert "of 100 parts work" in set_verdict(answer)


def test_what_no_tolerance_mends_is_redrawn(read):
    """From here the advice goes to redraw, and from there to no other question."""
    answer = tighten(read(SHOP), target=0.9999999, options=ONE)
    assert '"spiritlevel redraw study.toml ' in next_after_tightening(answer)
    assert "spiritlevel window" not in next_after_tightening(answer)
    told = redraw_verdict(find_redraw(read(SHOP), options=ONE))
    assert "spiritlevel" not in told


def test_same_answer_whatever_the_workers(read):
    answers = [
        tighten(read(SHOP), target=0.9, options=RunOptions(workers=workers)) for workers in (1, 2)
    ]
    assert tighten_document(answers[0]) == tighten_document(answers[1])


def test_studies_that_cannot_be_tightened_are_refused(read):
    unlimited = GOOD[: GOOD.index("[limits.play]")] + GOOD[GOOD.index("[sampling]") :]
    with pytest.raises(CallError, match="no limits"):
        tighten(read(unlimited), options=ONE)
    running = GOOD.replace('kind       = "build"', 'kind = "running"').replace(
        'basis      = "drilled"', 'kind = "running"'
    )
    with pytest.raises(CallError, match="none can be tightened"):
        tighten(read(running), options=ONE)


# The command


def test_the_screen_ends_in_shop_words(run_study):
    ran = run_study(SHOP, "--target", "90", command="tighten")
    assert ran.exit_code == 0, ran.stderr
    assert "If one spread is halved" in ran.stdout
    assert "more parts work" in ran.stdout
    assert "As drawn:" in ran.stdout
    assert "estimates from stated" in ran.stdout
    quiet = run_study(SHOP, "--target", "0.9", "--quiet", command="tighten")
    assert "parts work" in quiet.stdout.replace("\n", " ")
    assert "more parts work" not in quiet.stdout


def test_weights_show_what_they_rest_on(run_study):
    ran = run_study(SHOP, "--by-weights", command="tighten")
    assert ran.exit_code == 0, ran.stderr
    assert "effective sample" in ran.stdout
    document = json.loads(run_study(SHOP, "--by-weights", "--json", command="tighten").stdout)
    for row in document["halved"]:
        assert row["refused"] or 0.0 < row["effective_sample_size"] <= 1.0
        assert row["works"] is None
    # Weights are of moments, and it is said so.
    assert document["works_as_drawn"] is None
    assert "moment taken at random" in document["verdict"]


def test_weights_that_would_not_do_say_why(run_study):
    text = SHOP.replace('plus_minus = "0.3 mm"', 'plus_minus = "0.3 mm"\nshape = "arcsine"')
    ran = run_study(text, "--by-weights", command="tighten")
    assert ran.exit_code == 0, ran.stderr
    assert "without bounds" in ran.stdout.replace("\n", " ")


def test_json_and_folder(run_study, tmp_path):
    target = tmp_path / "answer"
    ran = run_study(SHOP, "--target", "0.9", "--json", "--out", target, command="tighten")
    assert ran.exit_code == 0, ran.stderr
    document = json.loads(ran.stdout)
    assert list(document)[:3] == ["schema", "spiritlevel", "command"]
    assert json.loads((target / "result.json").read_text("utf-8")) == document
    found = {str(p.relative_to(target)) for p in target.rglob("*") if p.is_file()}
    assert found == {
        "manifest.json",
        "report.html",
        "result.json",
        "study.toml",
        "tables/halved.csv",
        "tables/set.csv",
        "figures/halved.svg",
        "figures/set.svg",
    }
    rows = (target / "tables/set.csv").read_text("utf-8").splitlines()
    assert len(rows) == 1 + len(document["set"]["steps"])


def test_without_out_nothing_is_written(run_study, tmp_path):
    run_study(SHOP, command="tighten")
    assert {path.name for path in tmp_path.iterdir()} == {"study.toml"}


@pytest.mark.parametrize(
    "words", [("--target", "1"), ("--target", "101"), ("--points", "3"), ("--seed", "-1")]
)
def test_wrong_calls_are_refused(words, run_study):
    ran = run_study(SHOP, *words, command="tighten")
    assert ran.exit_code == 2
    assert ran.stdout == ""
