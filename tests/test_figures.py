"""Figures hold what they must: axes in words and units, limits marked, intervals shown."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sensitivity.answers.run.figures import bar_edges, results_drawn, run_figures
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.model_figures import model_figures
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import Unsampled, assemble
from sensitivity.engine.worst_case import StackUp
from sensitivity.pricing.ranking import rank
from sensitivity.study.file import read_study

BRAMBLE = Path(__file__).parent.parent / "studies" / "bramble"


def result_of(path, model_files=(), points=64, indices=True):
    """Run a study, without the worst case: that is in no figure, and takes the longest."""
    return result_of_study(read_study(path, model_files), points, indices)


def result_of_study(study, points, indices=True):
    study = replace(study, sampling=replace(study.sampling, seed=1, points=points, replicates=8))
    plan = plan_run(study, indices=indices)
    none = Unsampled(at_their_nominals(study), np.zeros(len(plan.outputs), dtype=bool))
    return assemble(study, plan, run_replicates(plan, workers=1), unsampled=none)


def at_their_nominals(study):
    """Every result as drawn, with no worst case and no root-sum-square."""
    drawn = study.nominal_results()
    nominal = np.array([float(drawn[item.name]) for item in study.system.results])
    ends = np.repeat(nominal[:, None], 2, axis=1)
    at = np.zeros((nominal.size, 2, len(study.varying)))
    return StackUp(nominal, ends, ends, at, 0.0)


def ran(result):
    return Ran(result, rank(result), 0.0)


def texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


@pytest.fixture(scope="module")
def gap():
    return result_of(BRAMBLE / "deflector_gap.toml")


@pytest.fixture(scope="module")
def drawn(gap):
    return results_drawn(gap) | run_figures(ran(gap))


def test_histograms_name_each_limited_result_its_unit_and_its_limit(gap, drawn):
    svg, words = drawn["results"]
    shown = texts(svg)
    for output in gap.limited:
        assert output.name.replace("_", " ") in shown
        assert output.name.replace("_", " ") in words
    assert {"W", "degC", "at least 400", "at most 450", "share of burners, %"} <= set(shown)


def test_ranking_figure_names_the_inputs_and_the_kinds(drawn):
    shown = texts(drawn["what_matters"][0])
    assert {"fire loss", "weighed burn rate", "build", "running condition", "model doubt"} <= set(
        shown
    )


def test_figures_are_the_same_for_the_same_result(gap, drawn):
    assert results_drawn(gap) | run_figures(ran(gap)) == drawn


def test_rare_failures_are_drawn_against_each_decisive_input():
    study = read_study(BRAMBLE / "stepped_pipe_in_a_jig.toml")
    loose = replace(
        study,
        limits=tuple(
            replace(limit, at_least=-1.0)
            for limit in study.limits
            if limit.result.endswith("_margin_all")
        ),
    )
    rare = result_of_study(loose, 1024)
    assert rare.distances
    svg, _ = run_figures(ran(rare))["rare_failures"]
    assert "place in its spread, % of burners below" in texts(svg)


@pytest.mark.parametrize(
    ("study", "model", "labels"),
    [
        (
            "deflector_gap",
            "firebox_heat",
            {"gap over the deflector, mm", "heat, W", "to the firebox", "out of the smokebox"},
        ),
        ("needle_valve", "needle_valve", {"turns of the needle from shut", "fuel, ml/min"}),
        ("run_up_the_bank", "feed_cycle", {"time, min", "wick lip", "crown of the pipe"}),
        ("run_a_lap", "boiler_run", {"time, min", "safety valve", "steam raised"}),
    ],
)
def test_models_bring_their_figures(study, model, labels):
    result = result_of(BRAMBLE / f"{study}.toml", indices=False)
    svg, words = model_figures(result)[model]
    assert labels <= set(texts(svg))
    assert len(words) > 20


OWN = """
from typing import Annotated, NamedTuple
import numpy as np
class Y(NamedTuple):
    y: Annotated[np.ndarray, "mm", "double"]
def double(x: Annotated[np.ndarray, "mm", "single"] = 1.0) -> Y:
    return Y(2.0 * x)
def double_figure(axes, nominal, burners):
    '''Double against single.'''
    {body}
"""
STUDY = "models = ['double']\n[inputs.x]\nplus_minus = '0.1 mm'\n"


@pytest.fixture
def own(tmp_path):
    def make(body):
        (tmp_path / "double.py").write_text(OWN.format(body=body))
        (tmp_path / "double.toml").write_text(STUDY)
        return result_of(tmp_path / "double.toml", [str(tmp_path / "double.py")])

    return make


def test_a_models_file_brings_its_figure_beside_it(own):
    result = own("axes.plot(burners['x'], 2 * burners['x']); axes.set_xlabel('single, mm')")
    svg, words = model_figures(result)["double"]
    assert words == "Double against single"
    assert "single, mm" in texts(svg)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("nominal['nothing']", "KeyError: 'nothing'"),
        ("raise SystemExit(5)", "SystemExit: 5"),
        ("raise GeneratorExit", "GeneratorExit"),
    ],
)
def test_a_figure_that_fails_is_told_with_its_line_and_left_out(own, capsys, body, says):
    result = own(body)
    line = next(n for n, text in enumerate(OWN.format(body=body).splitlines(), 1) if body in text)
    assert model_figures(result) == {}
    out, err = capsys.readouterr()
    assert out == ""
    assert f'figure of model "double" raised {says}' in err
    assert f"(line {line} of double.py); it is left out" in err


@pytest.mark.parametrize(("ends", "held"), [([0.0], [0.0]), ([-1.0, 2.0], [2.0]), ([], [])])
def test_no_bar_stands_astride_a_limit(ends, held):
    edges = bar_edges(-1.0, 3.0, ends)
    assert (edges[0], edges[-1]) == (-1.0, 3.0)
    assert set(held) <= set(edges)
    assert 38 <= edges.size <= 43
    assert (np.diff(edges) > 0.05).all()
