"""From nothing to a bench card: an invented engine in inches, by README and `new` alone.

A 3 1/2 in gauge 0-4-0 without a name; every size here is made up. The builder types no more than
`MOST_COMMANDS` commands and changes no more than `MOST_EDITS` lines, and every message met on
the way says what to do next.
"""

import difflib
import json
import re
import tomllib
from pathlib import Path

import pytest

from tests.conftest import invoke

MOST_COMMANDS, MOST_EDITS = 8, 25

SIZES = {
    "outlet_height": "5/16 in", "breather_height": "1/2 in", "breather_bore": "3/16 in",
    "breather_wall": "22 thou", "sump_free_area": "0.7 in2", "reach": "6 in",
    "outlet_reach": "3/8 in", "run_1": "2 1/4 in", "drop": "5/16 in", "run_2": "3/4 in",
    "rise": "5/16 in", "run_3": "2 5/8 in", "pipe_bore": "1/8 in", "pipe_wall": "18 thou",
    "obstacle_height": "9/32 in", "obstacle_position": "2 5/8 in", "obstacle_diameter": "3/16 in",
    "wick_lip_height": "9/32 in", "burn_rate": "4 ml/min",
}  # fmt: skip
"""What the builder knows of the engine; the reach is the pipe's: 3/8 + 2 1/4 + 3/4 + 2 5/8 in."""

QUICK = ("--seed", "1", "--replicates", "8", "--points", "64", "--workers", "1")


class Bench:
    """The builder at the keyboard: counts commands typed and lines of the file changed."""

    def __init__(self, study):
        self.study, self.commands, self.edits = Path(study), 0, 0

    def type(self, *words, status=0):
        self.commands += 1
        ran = invoke(*words)
        assert ran.exit_code == status, ran.stderr
        return ran

    def change(self, edit):
        before = self.study.read_text(encoding="utf-8")
        after = edit(before)
        lines = difflib.ndiff(before.splitlines(), after.splitlines())
        self.edits += sum(line.startswith("+ ") for line in lines)
        self.study.write_text(after, encoding="utf-8")

    def give(self, sizes):
        """Write sizes where the file asks for them, each on its line."""

        def edit(text):
            for name, size in sizes.items():
                text, found = re.subn(
                    rf'(\[inputs\.{name}\].*\nnominal = )"[^"]*"', rf'\1"{size}"', text
                )
                assert found == 1, name
            return text

        self.change(edit)


@pytest.fixture(scope="module")
def trial(tmp_path_factory):
    """The whole way, once; what was shown at each step."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path_factory.mktemp("bench"))
        bench, shown = Bench("mine.toml"), {}
        shown["models"] = bench.type("models")
        shown["new"] = bench.type(
            "new", "stepped_pipe", "fuel_level", "--units", "inch", "--out", "mine.toml"
        )
        shown["asked"] = bench.type("check", "mine.toml", status=2)
        # One size is written with a slip, and one left out: both are told.
        bench.give({**SIZES, "reach": "6 mm", "run_3": ""})
        shown["slip"] = bench.type("check", "mine.toml", status=2)
        bench.give({"run_3": SIZES["run_3"]})
        shown["odd"] = bench.type("check", "mine.toml")
        bench.give({"reach": SIZES["reach"]})
        shown["run"] = bench.type("run", "mine.toml", *QUICK)
        yield bench, shown, Path.cwd()


def test_it_takes_few_commands_and_few_edits(trial):
    bench, _, _ = trial
    assert bench.commands <= MOST_COMMANDS
    assert bench.edits <= MOST_EDITS


def test_models_that_are_needed_are_listed(trial):
    _, shown, _ = trial
    assert {"stepped_pipe", "fuel_level"} <= set(shown["models"].stdout.split())


def test_new_study_says_what_to_do_next(trial):
    _, shown, folder = trial
    assert "mine.svg" in shown["new"].stdout
    assert "spiritlevel check mine.toml" in shown["new"].stdout
    assert (folder / "mine.svg").read_text().startswith("<?xml")


def test_check_asks_for_every_size_by_its_number_on_the_drawing(trial):
    _, shown, folder = trial
    asked = shown["asked"].stderr
    drawing = (folder / "mine.svg").read_text()
    numbers = dict(re.findall(r'data-input="(\w+)" data-number="(\d+)"', drawing))
    wanted = SIZES.keys() - {"outlet_reach"}  # nought unless it is given
    rows = re.findall(r"^ +(?:\((\d+)\))? +line \d+ +(.+?)  +like nominal = ", asked, re.M)
    assert {name.replace(" ", "_") for _, name in rows} == wanted
    assert all(numbers.get(name.replace(" ", "_"), "") == number for number, name in rows)
    assert max(map(len, asked.splitlines()[1:])) <= 80


def test_a_size_left_out_is_asked_for_again_alone(trial):
    _, shown, _ = trial
    assert len(re.findall(r"like nominal = ", shown["slip"].stderr)) == 1
    assert "run 3" in shown["slip"].stderr


def test_a_slip_of_units_is_told_in_shop_words(trial):
    _, shown, _ = trial
    said = " ".join(shown["odd"].stdout.split())
    assert "reach 6 mm" in said
    assert "was it meant in inches, and written in mm?" in said
    assert "whose first wick 5.625 in further" in said  # 2 1/4 + 3/4 + 2 5/8 in


def test_nothing_in_the_run_is_of_another_engine(trial):
    _, shown, folder = trial
    found = json.loads((folder / "mine-results" / "result.json").read_text())
    stated = set(tomllib.loads((folder / "mine.toml").read_text())["inputs"])
    taken = {name for name, item in found["inputs"].items() if item["taken_from"] == "its model"}
    assert taken == found["inputs"].keys() - stated
    builds = {name for name in taken if found["inputs"][name]["spread"] == ""}
    assert builds == {"bracket_distance"}  # of a bracket without slack: there is none
    assert "of no burner of yours" not in shown["run"].stdout
    said = " ".join(shown["run"].stdout.split())
    assert "Left to the models" in said


def test_the_card_is_in_the_builders_units(trial):
    _, _, folder = trial
    card = (folder / "mine-results" / "card.html").read_text()
    words = re.sub(r"<[^>]*>", " ", card)
    for size in ("5/16 in", "2 1/4 in", "22 thou"):
        assert size in words
    assert not re.search(r"\d mm\b", words)
