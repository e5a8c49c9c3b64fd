"""A new study by what is known: as many of a thing as there are, and tubes by their name."""

import re
import tomllib
from pathlib import Path

import pytest

from sensitivity.answers.implausible import implausible
from sensitivity.study.file import read_study
from sensitivity.study.starter_counted import exact_beside_others, with_as_many
from sensitivity.system.catalogue import find_models
from sensitivity.system.system import wire
from tests.conftest import invoke

DEMO = Path(__file__).parents[1] / "studies" / "bramble" / "stepped_pipe.toml"
NAMES = ("fuel_level", "wicks")


def written(*words):
    ran = invoke("new", *NAMES, *words)
    assert ran.exit_code == 0, ran.stderr
    return ran.stdout


def answered(text, path):
    """The study with each size that is asked for at its example, read."""
    path.write_text(re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", text), encoding="utf-8")
    return read_study(path)


@pytest.mark.parametrize("count", range(1, 7))
def test_there_are_as_many_lips_as_wicks(count):
    text = written("--given", f"wick_count={count}")
    lips = re.findall(r"^\[inputs\.wick_lip_error_(\d)\]", text, re.MULTILINE)
    assert lips == [str(place) for place in range(1, count + 1)]
    assert f"nominal = {count}\n" in text


def test_where_the_count_is_not_given_it_is_said_how_to_have_more():
    text = written()
    assert len(re.findall(r"^\[inputs\.wick_lip_error_\d\]", text, re.MULTILINE)) == 1
    assert "--given wick_count=4" in text


def test_numbers_hang_on_the_models_and_not_on_the_count():
    def number(text):
        return re.search(r"^\[inputs\.wick_lip_height\]  # \((\d+)\)", text, re.MULTILINE)[1]

    assert number(written("--given", "wick_count=2")) == number(written())


def test_the_drawing_has_no_label_for_a_wick_that_is_not_there(at_home):
    for count in (2, 6):
        written("--given", f"wick_count={count}", "--out", f"with_{count}.toml")
        drawing = (at_home / f"with_{count}.svg").read_text(encoding="utf-8")
        labels = set(re.findall(r'data-input="wick_lip_error_(\d)"', drawing))
        assert labels == {str(place) for place in range(1, count + 1)}


def test_what_is_given_is_written_as_it_was_said(tmp_path):
    text = written("--units", "inch", "--given", "reach=3 7/8 in", "--given", "burn_rate=4 ml/min")
    study = answered(text, tmp_path / "given.toml")
    drawn = {item.name: item.drawn for item in study.inputs}
    assert (drawn["reach"], drawn["burn_rate"]) == ("3 7/8 in", "4 ml/min")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("wick_cuont=4", 'did you mean "wick_count"?'),
        ("wick_count", "write NAME=SIZE, like wick_count=4"),
        ("wick_count=9", "physically it is 1..6"),
        ("reach=3", 'has no unit; write "3 mm" or "3 in"'),
        ("grade=1 %", "is not asked for"),
    ],
)
def test_what_is_given_wrongly_is_refused(at_home, given, says):
    ran = invoke("new", *NAMES, "--given", given, "--out", "mine.toml")
    assert ran.exit_code == 2
    assert says in ran.stderr
    assert list(at_home.iterdir()) == []


@pytest.mark.parametrize("out", [".", "..", "", ".toml", "mine.svg", "mine"])
def test_a_starter_is_written_only_where_a_study_can_be(at_home, out):
    """A name without a stem once ended in a fault, and of ``mine.svg`` the drawing alone stood."""
    ran = invoke("new", *NAMES, "--out", out)
    assert ran.exit_code == 2
    assert "name a study, like mine.toml" in ran.stderr
    assert not list(at_home.iterdir())


@pytest.mark.parametrize(("units", "size"), [("mm", "4 mm x 0.5 mm"), ("inch", "3/16 in x 22 SWG")])
def test_a_tube_can_be_written_where_its_bore_is_asked_for(tmp_path, units, size):
    text = written("--units", units)
    line = f'# tube = "{size}"  # in its place: gives breather_wall too'
    assert line in text
    # Taken out of its comment it reads, and gives both.
    bore = text.index("[inputs.breather_bore]")
    text = text[:bore] + text[bore:].replace(line, line.removeprefix("# "), 1)
    text = re.sub(r'(breather_(?:bore|wall)\].*\nnominal = ""  # )like', r"\1as", text)
    study = answered(text, tmp_path / "tube.toml")
    found = {item.name: item.drawn for item in study.inputs}
    assert found["breather_bore"] == size
    assert found["breather_wall"] == size.split(" x ")[1]


def test_one_lip_that_varies_beside_others_taken_as_perfect_is_told(tmp_path):
    text = written("--given", "wick_count=3")
    sound = answered(text, tmp_path / "sound.toml")
    lips = [f"wick_lip_error_{place}" for place in (2, 3)]
    first = text.index("[inputs.wick_lip_error_2]")
    after = text.index("[inputs.wick_lip_height]")
    bare = answered(text[:first] + text[after:], tmp_path / "bare.toml")
    told = {one.names: one.says for one in implausible(bare)}
    assert "wick count is 3" in told[tuple(lips)]
    assert not any(set(lips) & set(one.names) for one in implausible(sound))


def test_every_wick_has_the_spread_of_the_first_and_they_are_one_group():
    """As the demo states its four wicks, which are one group."""
    inputs = tomllib.loads(written("--given", "wick_count=4"))["inputs"]
    demo = tomllib.loads(DEMO.read_text(encoding="utf-8"))["inputs"]
    for place in range(1, 5):
        name = f"wick_lip_error_{place}"
        for key in ("nominal", "process", "group"):
            assert inputs[name][key] == demo[name][key]
        assert inputs[name]["basis"].startswith("suggested")


def test_a_count_that_is_given_later_writes_as_many_and_leaves_what_is_ones_own():
    system = wire(find_models(NAMES, ()))
    four = written("--given", "wick_count=4")
    one = written().replace('nominal = ""  # like 1\n', "nominal = 4\n")
    made = with_as_many(one, system, "mm")
    assert tomllib.loads(made)["inputs"] == tomllib.loads(four)["inputs"]
    assert "new ... --given" not in made
    assert with_as_many(made, system, "mm") == made
    mine = one.replace('process = "silver_soldered_position"', 'plus_minus = "0.1 mm"').replace(
        'basis = "suggested: common practice, no source"\n# The others',
        'basis = "gauged"\n# The others',
    )
    made = with_as_many(mine, system, "mm")
    inputs = tomllib.loads(made)["inputs"]
    assert inputs["wick_lip_error_1"]["basis"] == "gauged"
    assert inputs["wick_lip_error_3"] == {
        "nominal": "0 mm", "plus_minus": "0.1 mm", "basis": "suggested: like wick lip error 1",
        "group": "wicks",
    }  # fmt: skip
    assert exact_beside_others(system, inputs) == []
    held = {**inputs, "wick_lip_error_2": {"nominal": "0 mm"}}
    del held["wick_lip_error_4"]
    assert exact_beside_others(system, held) == ["wick_lip_error_2", "wick_lip_error_4"]
    # Two wicks after all: what was suggested goes, what is one's own stays.
    own = made.replace("like wick lip error 1", "my word", 3).replace("suggested: my", "my")
    for text, left in ((made, 2), (own, 4)):
        two = with_as_many(text.replace("nominal = 4\n", "nominal = 2\n"), system, "mm")
        assert len([n for n in tomllib.loads(two)["inputs"] if "lip_error" in n]) == left


def test_suggestions_in_inches_are_round_in_inches():
    text = written("--units", "inch")
    assert 'between = ["1/2 in", "1 5/8 in"]' in text  # the tank's head: 12 to 42 mm
    assert 'plus_minus = "30 thou"' in text  # of the reach: 0.8 mm
    assert not re.search(r'"-?\d+\.\d+ in"', re.sub(r"#.*", "", text))
