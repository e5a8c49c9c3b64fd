"""One table has one precision for each unit; what is yes or no is said so."""

import re
from pathlib import Path

import pytest

import sensitivity as sl
from sensitivity.answers.check.tables import stack_table
from sensitivity.answers.run.screen import run_screen
from sensitivity.engine.intervals import Estimate
from sensitivity.errors import CallError, StudyError
from sensitivity.presentation import wording
from sensitivity.presentation.manner import Manner
from sensitivity.presentation.terminal import show
from sensitivity.presentation.units_said import said_by
from sensitivity.study.file import read_study, study_of_text
from sensitivity.system.catalogue import available_models
from tests.conftest import invoke

ROOT = Path(__file__).parents[1]
STUDIES = [
    ROOT / "studies/bramble/stepped_pipe.toml",
    ROOT / "tests/inch_pipe.toml",
]


def decimals_by_unit(table):
    """Of each unit, the numbers of decimals that the terminal's cells of a row in it have."""
    found = {}
    for row in (row for row in table.rows if row.shown and not row.ruled):
        drawn, *rest = [
            cell.text
            for column, cell in zip(table.columns, row.cells, strict=True)
            if column.head in ("as drawn", "root-sum-square, 95 %", "worst case")
        ]
        unit = drawn.partition(" ")[2]
        for number in re.findall(r"\d+(?:\.\d+)?", " ".join([drawn, *rest])):
            found.setdefault(unit, set()).add(len(number.partition(".")[2]))
    return found


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_a_check_has_one_precision_for_each_unit(path):
    found = decimals_by_unit(stack_table(sl.check(read_study(path)).found))
    lengths = {unit: places for unit, places in found.items() if unit in ("mm", "in", "thou")}
    bench = {"mm": {2}, "in": {3}, "thou": {0}}  # a caliper's hundredth, a thousandth
    assert lengths
    assert lengths == {unit: bench[unit] for unit in lengths}


@pytest.mark.parametrize(
    ("scales", "places"),
    [
        ({"flood_margin_all": 2.5, "starve_margin_all": 0.6}, 2),  # mm: 1 and 2 digits behind
        ({"flood_margin_all": 2.5, "starve_margin_all": 0.004}, 4),  # 0.004 is shown with a digit
        ({"flood_margin_all": 25.0, "starve_margin_all": 12.0}, 0),
    ],
)
def test_the_narrowest_decides_but_for_what_no_bench_reads(scales, places):
    said = said_by(read_study(STUDIES[0])).in_one_table(scales.items())
    places = min(places, 3) if places == 4 else places
    assert {said.of(name).places for name in scales} == {places}
    assert said.of("burner_tilt").places is None  # degrees are not in that table


def test_what_is_yes_or_no_is_said_in_words():
    truth = Manner("", "", yes_or_no=True)
    assert (truth.text(1.0), truth.text(0.0, 0.1), truth.number(1.0)) == ("yes", "no", "yes")
    assert (truth.ends(0.0, 1.0), truth.ends(1.0, 1.0)) == ("no to yes", "yes")
    assert truth.text(0.25) == "0.25"  # a mean of such is a share
    said = said_by(read_study(STUDIES[0]))
    limit = next(
        limit for limit in read_study(STUDIES[0]).limits if limit.result == "air_lock_clears"
    )
    assert said.limit(limit) == said.limit_in_short(limit) == "yes"


def test_every_result_that_is_one_or_nought_is_declared_so():
    results = [result for model in available_models() for result in model.results]
    declared = {result.name for result in results if result.yes_or_no}
    assert declared == {r.name for r in results if re.match(r"1 (if|where) .*else 0", r.meaning)}
    assert "air_lock_clears" in declared


@pytest.mark.parametrize(
    ("value", "half", "words"),
    [(0.0049, 0.002, "0.5"), (-0.0262, 0.006, "2.6"), (1.0, 0.0, "100"), (0.123, 0.01, "12")],
)
def test_a_difference_is_said_with_no_more_digits_than_it_has(value, half, words):
    assert wording.size_of_a_hundred(Estimate(value, value - half, value + half)) == words


@pytest.fixture(scope="module")
def ran():
    options = sl.RunOptions(seed=1, points=64, replicates=8, workers=1)
    return sl.run(read_study(ROOT / "tests/inch_level.toml"), options=options).found


def test_a_run_ends_on_what_to_ask_next(ran, capsys):
    words = run_screen(ran)[-1].text
    assert words.startswith("Next: ")
    assert re.findall(r'"spiritlevel (\w+) inch_level\.toml', words)
    show("title", run_screen(ran))
    assert "Implausible" not in capsys.readouterr().out


def test_a_run_repeats_in_a_line_what_check_finds_implausible(ran):
    text = (ROOT / "tests/inch_level.toml").read_text(encoding="utf-8")
    from sensitivity.answers.implausible import implausible_in_a_line
    from sensitivity.study.file import study_of_text

    slip = study_of_text(text.replace('"4 1/8 in"', '"4 1/8 mm"'), Path("slip.toml"))
    (line,) = implausible_in_a_line(slip)
    assert line.startswith('Implausible in a workshop ("spiritlevel check slip.toml" has it): ')
    assert line.endswith("was it meant in inches, and written in mm?")
    assert implausible_in_a_line(ran.study) == []


ACROSS = """
models = ["wicks"]
[inputs.manifold]
nominal = {nominal}
[inputs.cant]
plus_minus = "1 deg"
[limits.flood_margin_all]
at_least = "0 mm"
"""


@pytest.mark.parametrize(
    ("nominal", "value", "word"),
    [("1", 1.0, "yes"), ('"yes"', 1.0, "yes"), ("0", 0.0, "no"), ('"no"', 0.0, "no")],
)
def test_an_input_of_yes_or_no_is_stated_and_said_in_words(nominal, value, word):
    study = study_of_text(ACROSS.format(nominal=nominal), Path("across.toml"))
    item = next(item for item in study.inputs if item.name == "manifold")
    assert item.nominal == value
    assert said_by(study).drawn(item) == word


def test_what_is_neither_yes_nor_no_is_refused():
    with pytest.raises(StudyError, match=r"physically it is 0\.\.1"):
        study_of_text(ACROSS.format(nominal="2"), Path("across.toml"))
    with pytest.raises(StudyError, match='"perhaps" should be "yes" or "no"'):
        study_of_text(ACROSS.format(nominal='"perhaps"'), Path("across.toml"))


def test_a_new_study_takes_a_yes_and_asks_for_what_goes_with_it():
    without = invoke("new", "wicks").stdout
    across = invoke("new", "wicks", "--given", "manifold=yes").stdout
    assert 'nominal = "no"' in without
    assert "# [inputs.manifold_roll]" in without
    assert 'nominal = "yes"' in across
    assert "\n[inputs.manifold_roll]" in across
    assert 'should be "yes" or "no"' in invoke("new", "wicks", "--given", "manifold=oak").stderr


def test_nothing_lies_between_yes_and_no():
    study = study_of_text(ACROSS.format(nominal="1"), Path("across.toml"))
    with pytest.raises(CallError, match="yes or no"):
        sl.window(study, "manifold")
