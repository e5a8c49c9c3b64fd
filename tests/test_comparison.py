"""Comparing designs: common random numbers, differences with intervals, and what is refused."""

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from sensitivity.answers.compare.names import named_apart
from tests.strategies import GOOD, MODELS, QUICK

SMALLER = GOOD.replace('"10 mm"', '"9.98 mm"').replace("A pin in a hole", "A smaller hole")


@pytest.fixture
def compare(run_command, write_study, model_file):
    """Compare studies given as texts, named after the letters."""

    def run(*texts, words=("--json",), names="abcdefgh"):
        paths = [
            write_study(text, f"{name}.toml") for name, text in zip(names, texts, strict=False)
        ]
        return run_command("compare", *paths, "--model-file", model_file, *words)

    return run


def test_design_and_itself_do_not_differ(compare):
    ran = compare(GOOD, GOOD.replace("A pin", "The same pin"))
    assert (ran.exit_code, ran.stderr) == (0, "")
    first, second = json.loads(ran.stdout)["designs"]
    assert first["difference_to_first"] is None
    assert first["yield"] == second["yield"]
    difference = second["difference_to_first"]["yield"]
    assert difference["estimate"] == 0.0
    low, high = difference["interval"]
    assert low <= 0.0 <= high
    assert high - low > 0  # no false certainty
    works = second["difference_to_first"]["works"]
    assert works["estimate"] == 0.0
    assert works["interval"][0] < 0.0 < works["interval"][1]


# A study whose one limit is linear in independent normals: build, running, model. In units of
# 0.1 mm it keeps where d + s b + 0.5 r + 0.6 m is 0 or more; so at a share rho of the moments where
# d + s b + 0.6 m is 0.5 q(rho) or more, and W = Phi((d - 0.5 q) / sqrt(s^2 + 0.36)).
LINEAR = """\
title  = "A gap"
models = ["gap"]
keeps  = 0.9
[inputs.gap_as_drawn]
nominal = "0.2 mm"
[inputs.cut]
nominal            = "0 mm"
standard_deviation = "0.1 mm"
[inputs.heat]
nominal            = "0 mm"
standard_deviation = "0.05 mm"
kind               = "running"
[inputs.lore]
nominal            = "0 mm"
standard_deviation = "0.06 mm"
kind               = "model"
[limits.gap]
at_least = "0 mm"
[sampling]
seed       = 5
replicates = 8
points     = 512
"""

GAP = '''
from typing import Annotated, NamedTuple
import numpy as np

Array = np.ndarray

class Gap(NamedTuple):
    """What is left."""

    gap: Annotated[Array, "mm", "what is left"]

def gap(
    gap_as_drawn: Annotated[Array, "mm", "the gap as drawn"],
    cut: Annotated[Array, "mm", "error of the cut"],
    heat: Annotated[Array, "mm", "what warmth adds"],
    lore: Annotated[Array, "mm", "what is not known"],
) -> Gap:
    """A gap: a sum."""
    return Gap(gap_as_drawn + cut + heat + lore)
'''


def works_of_gap(drawn, cut=0.1):
    """Share that works, in closed form, in units of 0.1 mm."""
    from scipy.stats import norm

    return norm.cdf((drawn - 0.5 * norm.ppf(0.9)) / math.hypot(10 * cut, 0.6))


@pytest.fixture
def compare_gaps(run_command, write_study, tmp_path):
    def run(*texts, words=("--json",)):
        (tmp_path / "gap.py").write_text(GAP, encoding="utf-8")
        paths = [write_study(text, f"{n}.toml") for n, text in zip("abc", texts, strict=False)]
        ran = run_command("compare", *paths, "--model-file", tmp_path / "gap.py", *words)
        assert ran.exit_code == 0, ran.stderr
        return ran.stdout

    return run


def test_designs_are_judged_by_how_many_work(compare_gaps):
    rough = LINEAR.replace('"0.1 mm"', '"0.2 mm"')
    first, second = json.loads(compare_gaps(LINEAR, rough))["designs"]
    for design, cut in ((first, 0.1), (second, 0.2)):
        low, high = design["works"]["interval"]
        assert abs(design["works"]["estimate"] - works_of_gap(2.0, cut)) < 1.5 * (high - low)
    gain = second["difference_to_first"]["works"]
    assert gain["estimate"] == pytest.approx(
        second["works"]["estimate"] - first["works"]["estimate"], abs=1e-12
    )
    assert gain["interval"][0] < works_of_gap(2.0, 0.2) - works_of_gap(2.0) < gain["interval"][1]


def test_verdict_speaks_of_parts_that_work_and_of_the_doubts(compare_gaps):
    verdict = " ".join(
        compare_gaps(LINEAR, LINEAR.replace('"0.2 mm"', '"0.3 mm"'), words=()).split()
    )
    assert "more work as b than as a: " in verdict
    assert "To work is to keep every limit in 90 of 100 moments of running" in verdict
    assert re.search(r"As the physics may turn out, of 100 work: a \d+ to \d+ and b", verdict)
    assert "At a moment taken at random" in verdict


def test_what_hurts_is_said_first_and_never_traded(compare_gaps):
    hurting = LINEAR.replace('at_least = "0 mm"', 'at_least = "0 mm"\nhurts = true\nceiling = 0.02')
    document = json.loads(compare_gaps(hurting, hurting.replace('"0.2 mm"', '"0.4 mm"')))
    assert document["verdict"].startswith("This can hurt: gap may break its limit at 2 of 100")
    assert "only b can be chosen" in document["verdict"]


def test_where_nothing_runs_what_works_is_what_keeps(compare_gaps):
    still = LINEAR.replace('"running"', '"build"')
    first, second = json.loads(compare_gaps(still, still.replace('"0.2 mm"', '"0.1 mm"')))[
        "designs"
    ]
    for design in (first, second):
        assert design["works"]["estimate"] == design["yield"]["estimate"]
    change = second["difference_to_first"]
    assert change["works"] == change["yield"]


def test_what_works_must_be_asked_alike(run_command, write_study, tmp_path):
    (tmp_path / "gap.py").write_text(GAP, encoding="utf-8")
    paths = [
        write_study(LINEAR, "a.toml"),
        write_study(LINEAR.replace("0.9\n", "0.95\n"), "b.toml"),
    ]
    ran = run_command("compare", *paths, "--model-file", tmp_path / "gap.py")
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert "do not ask the same of what works" in ran.stderr


def test_difference_is_that_of_the_yields_and_common_numbers_pay(compare):
    document = json.loads(compare(GOOD, SMALLER).stdout)
    first, second = document["designs"]
    assert [design["name"] for design in (first, second)] == ["a", "b"]
    assert second["title"] == "A smaller hole"
    difference = second["difference_to_first"]["yield"]
    assert difference["estimate"] == pytest.approx(
        second["yield"]["estimate"] - first["yield"]["estimate"], abs=1e-12
    )
    # Independent numbers would give the difference the two variances together.
    half = [
        (high - low) / 2
        for low, high in (design["yield"]["interval"] for design in (first, second))
    ]
    low, high = difference["interval"]
    assert low <= difference["estimate"] <= high
    assert (high - low) / 2 < 0.8 * math.hypot(*half)


def test_smaller_hole_is_tight_more_often_and_leans_less(compare):
    second = json.loads(compare(GOOD, SMALLER).stdout)["designs"][1]
    limits = second["difference_to_first"]["limits"]
    assert limits["play"]["interval"][1] < 0.0
    assert limits["lean"]["interval"][0] > 0.0


def test_one_design_s_yields_are_those_of_its_own_run(compare, run_study, no_figures):
    document = json.loads(compare(GOOD, GOOD.replace("A pin", "The same pin")).stdout)
    own = json.loads(run_study(GOOD, "--json").stdout)
    # The same inputs in the same order draw the same numbers as alone.
    assert document["designs"][0]["yield"] == own["yield"]
    assert document["designs"][0]["works"] == own["works"]
    assert document["designs"][0]["limits"]["play"] == own["outputs"]["play"]["yield"]


def test_third_design_is_held_against_the_first(compare):
    designs = json.loads(compare(GOOD, SMALLER, GOOD.replace("A pin", "Again")).stdout)["designs"]
    assert designs[2]["difference_to_first"]["yield"]["estimate"] == 0.0


def test_designs_of_different_models(run_command, write_study, tmp_path, model_file):
    other = tmp_path / "other.py"
    other.write_text(MODELS.replace("def pin_fit", "def long_pin"))
    one = write_study(GOOD, "a.toml")
    two = write_study(GOOD.replace('"pin_fit"', '"long_pin"'), "b.toml")
    ran = run_command(
        "compare", one, two, "--model-file", model_file, "--model-file", other, "--json"
    )
    second = json.loads(ran.stdout)["designs"][1]
    assert second["difference_to_first"]["yield"]["estimate"] == 0.0


def test_same_whatever_the_number_of_workers(compare):
    assert (
        compare(GOOD, SMALLER, words=("--json", "--workers", 1)).stdout
        == compare(GOOD, SMALLER, words=("--json", "--workers", 2)).stdout
    )


def test_options(compare):
    document = json.loads(
        compare(
            GOOD, SMALLER, words=("--json", "--seed", 0, "--points", 128, "--replicates", 9)
        ).stdout
    )
    assert (document["seed"], document["points"], document["replicates"]) == (0, 128, 9)
    assert next(iter(document)) == "schema"


def test_seed_is_drawn_and_printed(compare):
    unseeded = [text.replace("seed       = 1\n", "") for text in (GOOD, SMALLER)]
    drawn = json.loads(compare(*unseeded).stdout)
    again = json.loads(compare(*unseeded, words=("--json", "--seed", drawn["seed"])).stdout)
    assert again == drawn
    printed = compare(*unseeded, words=("--seed", 77)).stdout
    assert "seed 77" in printed


def test_what_is_printed(compare, tmp_path):
    ran = compare(GOOD, SMALLER, words=())
    assert (ran.exit_code, ran.stderr) == (0, "")
    flat = " ".join(ran.stdout.split())
    for words in (
        "play",
        "lean",
        "all limits together",
        "points",
        "Common random numbers",
        "estimates from stated",
    ):
        assert words in flat
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.toml", "b.toml"]
    quiet = compare(GOOD, SMALLER, words=("--quiet",)).stdout
    assert " ".join(quiet.partition("while they stand so.")[2].split()) in flat
    assert "estimates from stated" not in quiet


def test_no_difference_is_said_to_be_settled_where_none_is(compare):
    ran = compare(GOOD, GOOD.replace("A pin", "Again"), words=("--quiet",))
    assert "no difference is settled" in ran.stdout


def test_all_against_none(compare):
    # One design never fails, the other always: 100 burners more, in plain figures.
    head = GOOD.split("[limits.play]")[0]
    tail = f'[limits.play]\nat_least = "-1 mm"\nat_most = "1 mm"\n{QUICK}'
    bad = head.replace('"10 mm"', '"20 mm"') + tail
    ran = compare(head + tail, bad, words=("--quiet",))
    assert ran.exit_code == 0
    assert "100 more work as a than as b: all of" in " ".join(ran.stdout.split())


def test_name_of_a_file_is_shown_as_it_stands(run_command, write_study, model_file):
    one, two = write_study(GOOD, "pin[old].toml"), write_study(SMALLER, "pin[new].toml")
    ran = run_command("compare", one, two, "--model-file", model_file)
    assert ran.exit_code == 0
    assert "pin[old]" in ran.stdout.split("Common random numbers")[0]


def test_studies_of_one_name_are_told_apart_saved_and_repeated(
    run_command, write_study, model_file, tmp_path
):
    for name, text in (("a", GOOD), ("b", SMALLER)):
        (tmp_path / name).mkdir()
        write_study(text, f"{name}/s.toml")
    options = ("--model-file", model_file, "--out")
    ran = run_command("compare", tmp_path / "a" / "s.toml", "b/s.toml", *options, "one")
    assert ran.exit_code == 0, ran.stderr
    assert "a_s" in ran.stdout
    assert "b_s" in ran.stdout
    assert (tmp_path / "one" / "a_s.toml").read_text(encoding="utf-8") == GOOD
    assert (tmp_path / "one" / "b_s.toml").read_text(encoding="utf-8") == SMALLER
    report = (tmp_path / "one" / "report.html").read_text(encoding="utf-8")
    assert "spiritlevel compare a_s.toml b_s.toml" in report
    # As the report says: with the studies under those names, the same answer.
    again = run_command("compare", "one/a_s.toml", "one/b_s.toml", *options, "two")
    assert again.exit_code == 0
    one, two = (
        json.loads((tmp_path / n / "result.json").read_text("utf-8")) for n in ("one", "two")
    )
    assert one == two
    assert [design["name"] for design in one["designs"]] == ["a_s", "b_s"]


@pytest.mark.parametrize(
    ("paths", "names"),
    [
        (["a.toml", "b.toml"], ["a", "b"]),
        (["x/a/s.toml", "y/a/s.toml", "b.toml"], ["x_a_s", "y_a_s", "b"]),
        (["a/S.toml", "b/s.toml"], ["a_S", "b_s"]),
        (["a/s.toml", "b/s.toml", "a_s.toml"], ["HOME_a_s", "HOME_b_s", "a_s"]),
        (["s.toml", "s.toml", "s_1.toml"], ["s_2", "s_3", "s_1"]),
    ],
)
def test_names_of_designs(read, tmp_path, paths, names):
    studies = [replace(read(), name=Path(path).stem) for path in paths]
    told = named_apart(studies, [tmp_path / path for path in paths])
    assert [study.name for study in told] == [n.replace("HOME", tmp_path.name) for n in names]


def test_studies_without_paths_are_numbered(read):
    assert [study.name for study in named_apart([read(), read()])] == ["study_1", "study_2"]


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ((GOOD,), ["two studies"]),
        ((GOOD, GOOD.replace('"0.05 mm"', '"0.06 mm"')), ["same limits", "play"]),
        ((GOOD, GOOD.replace("[limits.lean]", "[limits.leak]").replace("1.2 deg", "9 ml/min")),
         ["same limits", "lean", "leak"]),
        ((GOOD.split("[limits.play]")[0], GOOD.split("[limits.play]")[0]), ["no limits"]),
        ((GOOD, GOOD.replace('"0.2 mm"', '"0.2 K"')), ["b.toml", "does not convert"]),
        ((GOOD, 'models = ["pin_fit"]\n[limits.play]\nat_least = "0.05 mm"\n[limits.lean]\n'
          'at_most = "1.2 deg"\n'), ["no input varies"]),
    ],
    ids=["one", "another limit", "other limits", "no limits", "a fault", "nothing varies"],
)  # fmt: skip
def test_what_cannot_be_compared(compare, texts, says):
    ran = compare(*texts)
    assert (ran.exit_code, ran.stdout) == (2, "")
    for words in says:
        assert words in ran.stderr


# Why they differ


@pytest.fixture
def designs(write_study, model_file):
    """Compare two texts from Python."""
    from sensitivity.answers.compare import compare as answer
    from sensitivity.engine.options import RunOptions
    from sensitivity.study.file import read_study

    def run(*texts):
        studies = [
            read_study(write_study(text, f"{name}.toml"), [str(model_file)])
            for name, text in zip("abc", texts, strict=False)
        ]
        return answer(*studies, options=RunOptions(workers=1))

    return run


def test_reasons_are_what_differs_and_nothing_else(designs):
    """The hole varies more than the pin in both: it is not why they differ."""
    closer = GOOD.replace('plus_minus = "0.1 mm"', 'plus_minus = "0.02 mm"')
    found = designs(GOOD, closer)
    reasons = found.found.designs[1].reasons
    assert [swap.name for swap in reasons.each] == ["pin"]
    assert reasons.together is None
    assert reasons.rest is None
    assert found.found.designs[0].reasons is None
    frame = found.tables()["reasons_b"]
    assert list(frame["input"]) == ["pin"]


def test_a_design_moved_is_told_by_how_far_its_mean_moves(designs):
    """A hole 0.02 mm smaller: the play is smaller by that, but for the block's warmth."""
    reasons = designs(GOOD, SMALLER).found.designs[1].reasons
    (swap,) = reasons.each
    assert (swap.name, swap.first.nominal, swap.other.nominal) == ("hole", 10.0, 9.98)
    assert swap.shifts["play"].value == pytest.approx(-0.02, rel=1e-3)
    assert swap.limits["play"].value < 0.0
    assert swap.limits["lean"].value > 0.0


def test_several_differences_are_told_one_by_one_and_together(designs):
    other = SMALLER.replace('plus_minus = "0.1 mm"', 'plus_minus = "0.02 mm"')
    found = designs(GOOD, other).found
    reasons = found.designs[1].reasons
    assert {swap.name for swap in reasons.each} == {"hole", "pin"}
    assert reasons.rest is None
    # All of them at once is the other design, on the same samples.
    assert reasons.together.overall.value == pytest.approx(
        found.designs[1].overall_difference.value, abs=1e-12
    )


def test_what_only_one_design_has_is_what_is_left(designs):
    """Oil in the hole is a model that only one has; the hole is smaller there too."""
    oiled = SMALLER.replace('models = ["pin_fit"]', 'models = ["pin_fit", "rattle_heard"]')
    damping = "\n[inputs.damping]\nnominal = 0.5\nplus_minus = 0.1\n\n[limits.play]"
    reasons = designs(GOOD, oiled.replace("\n[limits.play]", damping)).found.designs[1].reasons
    assert [swap.name for swap in reasons.each] == ["hole"]
    assert reasons.only_first == ()
    assert reasons.only_other == ("damping",)
    assert reasons.rest.overall.value == 0.0


def test_verdict_gives_what_differs(compare):
    closer = GOOD.replace('plus_minus = "0.2 mm"', 'plus_minus = "0.02 mm"')
    told = " ".join(compare(GOOD, closer, words=("--quiet",)).stdout.split())
    assert "What differs, put into a alone, of 100 moments: hole (± 0.02 mm" in told
    assert "in place of ± 0.2 mm" in told
    assert "pin" not in told
    same = " ".join(compare(GOOD, GOOD, words=("--quiet",)).stdout.split())
    assert "What differs" not in same


BIG = '''
from typing import Annotated, NamedTuple


class Big(NamedTuple):
    size: Annotated[float, "", "what is big"]


def big(x: Annotated[float, "", "what varies"] = 0.0) -> Big:
    """Far beyond what can be squared."""
    return Big(1e160 * x)
'''


def test_results_whose_squares_overflow_are_compared(run_command, write_study, tmp_path):
    (tmp_path / "big.py").write_text(BIG, encoding="utf-8")
    text = 'models = ["big"]\n[inputs.x]\nstandard_deviation = {}\n'
    text += "[limits.size]\nat_most = 1e160\n"
    paths = [write_study(text.format(s) + QUICK, f"{n}.toml") for n, s in (("a", 1), ("b", 0.5))]
    ran = run_command("compare", *paths, "--model-file", tmp_path / "big.py", "--json")
    assert ran.exit_code == 0, ran.stderr
    first, second = json.loads(ran.stdout)["designs"]
    assert first["causes"]["size"]["x"]["estimate"] == pytest.approx(1e160, rel=0.1)
    assert second["causes"]["size"]["x"]["estimate"] == pytest.approx(0.5e160, rel=0.1)
    (swap,) = second["reasons"]["each"]
    assert swap["gain"]["interval"][0] > 0.0
