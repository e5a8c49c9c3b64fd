"""``redraw``: what a study may say of it, what may be moved, the command and what it says."""

import json

import numpy as np
import pytest

import sensitivity as sl
from sensitivity.answers.redraw.find import find_redraw
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.errors import CallError, StudyError
from sensitivity.pricing.nominals import nominals_of
from sensitivity.pricing.one_move import nominal_to_move
from sensitivity.pricing.slopes import leading_nominals
from tests.strategies import GOOD

ONE = RunOptions(workers=1)
TIGHT = GOOD.replace('nominal    = "10 mm"', 'nominal    = "9.9 mm"')
"""A hole too small by a tenth: most pins are tight."""


def hole(stated, text=TIGHT):
    return text.replace("[inputs.hole]\n", f"[inputs.hole]\n{stated}\n")


RANGED = hole('redraw = ["9.8 mm", "10.3 mm"]\nredraw_step = "0.05 mm"')


# What a study may say


def redraw_of(study, name="hole"):
    return next(item for item in study.inputs if item.name == name).redraw


def test_a_range_is_read_in_the_models_unit(read):
    found = redraw_of(read(hole('redraw = ["3/8 in", "0.41 in"]\nredraw_step = "4 thou"')))
    assert (found.low, found.high) == pytest.approx((9.525, 10.414))
    assert found.step == pytest.approx(0.1016)


def test_sizes_are_their_own_range(read):
    found = redraw_of(read(hole('redraw_sizes = ["9.9 mm", "10 mm", "10.2 mm"]')))
    assert found.sizes == (9.9, 10.0, 10.2)
    assert (found.low, found.high) == (9.9, 10.2)
    cut = redraw_of(
        read(hole('redraw = ["9.95 mm", "11 mm"]\nredraw_sizes = ["9.9 mm", "10 mm", "10.2 mm"]'))
    )
    assert cut.sizes == (10.0, 10.2)


def test_python_says_the_same_as_a_file(read):
    from tests.test_in_python import fit

    study = sl.Study(
        models=[fit],
        inputs={
            "bore": sl.normal(
                "10.1 mm", plus_minus="0.1 mm", redraw=["10 mm", "11 mm"], redraw_step="0.1 mm"
            )
        },
    )
    found = redraw_of(study, "bore")
    assert (found.low, found.high, found.step) == (10.0, 11.0, 0.1)


@pytest.mark.parametrize(
    ("stated", "problem"),
    [
        ('redraw = ["10.3 mm", "9.8 mm"]', "ascending"),
        ('redraw = "9 mm"', "two quantities"),
        ('redraw = ["9.8 mm", "2 deg"]', "deg"),
        ('redraw = ["-1 mm", "12 mm"]', "physically it is > 0"),
        ('redraw_step = "0.1 mm"', "wants its range"),
        ('redraw = ["9.8 mm", "10.3 mm"]\nredraw_step = "0 mm"', "above zero"),
        ('redraw_sizes = ["10 mm"]', "2 to 100 quantities"),
        ('redraw_sizes = ["10 mm", "9 mm"]', "ascending"),
        ('redraw = ["1 mm", "2 mm"]\nredraw_sizes = ["9 mm", "10 mm"]', "fewer than two"),
        (
            'redraw = ["9 mm", "10 mm"]\nredraw_step = "1 mm"\nredraw_sizes = ["9 mm", "10 mm"]',
            "without",
        ),
        ('redrew = ["9.8 mm", "10.3 mm"]', 'did you mean "redraw"'),
    ],
)
def test_faults_are_named(read, stated, problem):
    with pytest.raises(StudyError, match=problem):
        read(hole(stated))


def test_what_is_met_is_not_drawn(read):
    text = GOOD.replace("[inputs.warmth]\n", '[inputs.warmth]\nredraw = ["10 degC", "30 degC"]\n')
    with pytest.raises(StudyError, match="of kind running"):
        read(text)


# What may be moved


def by_name(study, **how):
    return {each.name: each for each in nominals_of(plan_run(study, indices=False), **how)}


def test_settings_are_steps_from_the_nominal(read):
    found = by_name(read(hole('redraw = ["9.72 mm", "10.1 mm"]\nredraw_step = "0.1 mm"')))
    assert found["hole"].settings == pytest.approx((9.8, 9.9, 10.0, 10.1))
    assert found["hole"].move == pytest.approx(0.1)
    assert found["pin"].settings == ()
    assert found["pin"].move == pytest.approx(0.5 * 0.1 / 3.0)


def test_settings_are_round_in_the_builders_unit(read):
    text = hole('redraw = ["9.8 mm", "10.3 mm"]')
    metric = np.array(by_name(read(text))["hole"].settings)
    assert metric == pytest.approx(np.round(metric, 3))
    inches = by_name(read(text), inches=True)["hole"].settings
    within = [each for each in inches if each not in (9.8, 9.9, 10.3)]
    assert len(within) > 20
    assert np.array(within) / 0.0254 == pytest.approx(np.round(np.array(within) / 0.0254, 1))


def test_what_can_be_set_can_be_drawn_there(read):
    found = by_name(read(hole('adjust = ["9.8 mm", "10.2 mm"]')))
    assert (found["hole"].settings[0], found["hole"].settings[-1]) == (9.8, 10.2)


def test_counts_doubts_and_what_is_measured_are_not_drawn_elsewhere(read):
    text = GOOD.replace(
        'plus_minus = "0.1 mm"\nshape      = "normal"',
        'measured = "9.81 mm"\ninstrument = "micrometer"',
    )
    assert set(by_name(read(text))) == {"hole", "depth", "flow"}


def test_a_move_out_of_what_physically_is_is_none(read):
    """The share is within 0..1: 0.8 to 1 goes down only, and its settings end where it fits."""
    share = "\n[inputs.share]\nnominal = 0.9\nplus_minus = 0.1\nredraw = [0.5, 1]\n"
    found = by_name(read(GOOD.replace("\n[limits.play]", f"{share}\n[limits.play]")))["share"]
    assert found.up == 0.9
    assert found.settings[-1] == 0.9
    assert found.settings[0] == 0.5


def test_a_model_without_answer_elsewhere_is_no_fault(read):
    found = find_redraw(read(hole('redraw = ["0.1 mm", "30 mm"]')), options=ONE)
    assert found.moves
    assert 9.9 < found.moves[0].to < 10.4


def test_the_nominal_that_leads_is_named(read):
    plan = plan_run(read(RANGED), indices=False)
    first = leading_nominals(plan, options=ONE)[0]
    assert first.nominal.name == "hole"
    assert first.gained.low > 0.0
    assert first.gain.value > 0.0
    only = leading_nominals(plan, among=["pin"], options=ONE)
    assert {slope.nominal.name for slope in only} <= {"pin"}


# What is said


def test_the_hole_is_drawn_larger(read):
    found = find_redraw(read(RANGED), options=ONE)
    (move,) = found.moves
    assert move.nominal.name == "hole"
    assert move.to > 9.9
    assert round((move.to - 9.9) / 0.05, 6) == round((move.to - 9.9) / 0.05)
    assert found.more.low > 0.1
    assert found.fresh_seed != found.plan.seed


def test_the_verdict_says_what_to_draw_and_how_sure_that_is(run_study):
    ran = run_study(RANGED, "--quiet", command="redraw")
    assert ran.exit_code == 0, ran.stderr
    told = " ".join(ran.stdout.split())
    assert told.startswith("Draw the hole at 10")
    assert "not 9.9 mm: of 100 parts about" in told
    assert "A fresh sample bears it out" in told


def test_inches_are_said_back(run_study):
    text = 'units = "inch"\n'
    text += hole('redraw = ["0.386 in", "0.406 in"]\nredraw_step = "4 thou"')
    told = " ".join(run_study(text, "--quiet", command="redraw").stdout.split())
    assert "Draw the hole at 0.39" in told


def test_no_range_no_move(run_study):
    ran = run_study(TIGHT, "--quiet", command="redraw")
    told = " ".join(ran.stdout.split())
    assert told.startswith("No nominal has a range in which it may be drawn elsewhere")
    assert "state it under [inputs.hole]: redraw = [" in told
    ends = told.split("redraw = [")[1].split("]")[0].replace('"', "").replace(" mm", "").split(", ")
    assert float(ends[0]) < 9.9 < float(ends[1])


def test_nothing_to_gain_is_said(run_study):
    text = hole('redraw = ["9.99 mm", "10.01 mm"]', GOOD)
    told = " ".join(run_study(text, "--quiet", command="redraw").stdout.split())
    assert told.startswith("Leave as drawn what may be moved (hole)")


def test_studies_without_limits_are_refused(read):
    with pytest.raises(CallError, match="states no limits"):
        find_redraw(read(GOOD[: GOOD.index("[limits.play]")]), options=ONE)


def test_json_screen_and_folder_agree(run_study, tmp_path):
    ran = run_study(RANGED, "--out", "found", command="redraw")
    assert ran.exit_code == 0, ran.stderr
    assert "What to draw elsewhere" in ran.stdout
    assert "What a small move of each nominal alone gains" in ran.stdout
    document = json.loads((tmp_path / "found" / "result.json").read_text("utf-8"))
    (move,) = document["moves"]
    assert move["input"] == "hole"
    assert move["level"][0] <= move["draw_at"] <= move["level"][1]
    rows = {row["input"]: row for row in document["nominals"]}
    assert rows["hole"]["range"] == [9.8, 10.3]
    assert rows["pin"]["range"] is None
    files = {p.name for p in (tmp_path / "found").rglob("*.csv")}
    assert files == {"moves.csv", "nominals.csv"}


def test_same_answer_whatever_the_workers(read):
    one, two = (sl.redraw(read(RANGED), options=RunOptions(workers=count)) for count in (1, 2))
    assert one.to_dict() == two.to_dict()


# What run names


def test_one_nominal_is_named_with_where_to_draw_it(read):
    plan = plan_run(read(RANGED), indices=False)
    found = nominal_to_move(plan, options=ONE)
    assert found.asked is None
    assert found.move.nominal.name == "hole"
    assert 9.9 < found.move.to <= 10.3
    assert found.move.gain.low > 0.0


def test_without_a_range_one_is_asked_for(read):
    plan = plan_run(read(TIGHT), indices=False)
    found = nominal_to_move(plan, options=ONE)
    assert found.move is None
    assert found.asked.nominal.name in ("hole", "pin")
    assert nominal_to_move(plan, among=["pin"], options=ONE).asked.nominal.name == "pin"


def test_nothing_worth_a_move_names_nothing(read):
    plan = plan_run(read(hole('redraw = ["9.999 mm", "10.001 mm"]', GOOD)), indices=False)
    found = nominal_to_move(plan, options=ONE)
    assert (found.move, found.asked) == (None, None)
