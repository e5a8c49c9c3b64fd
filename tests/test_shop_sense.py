"""`check` says what is implausible in a workshop, and leaves alone what is not.

The bounds are judgement, no source; what is tried here lies well beyond them, and the demo, whose
sizes are meant, well within.
"""

from pathlib import Path

import pytest

from sensitivity.answers.borrowed import borrowed_in_words
from sensitivity.answers.implausible import implausible
from sensitivity.study.file import read_study, study_of_text
from tests.conftest import invoke

DEMO = Path(__file__).parents[1] / "studies" / "bramble"
PIPE = DEMO / "stepped_pipe.toml"


def said(*changes):
    """What is implausible in the demo's pipe with some of its text changed."""
    text = PIPE.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return [one.says for one in implausible(study_of_text(text, PIPE))]


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.toml")), ids=lambda path: path.stem)
def test_the_demo_is_plausible_but_where_it_is_meant_odd(path):
    found = [one.names for one in implausible(read_study(path))]
    without_plate = [("deflector_gap", "firebox_height")]
    assert found == (without_plate if path.stem == "run_a_lap_without_plate" else [])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        # A breather above the wicks' lips, and one below the outlet's top.
        ('nominal = "12.3 mm"', 'nominal = "15 mm"', "runs over them as it is filled"),
        ('nominal = "12.3 mm"', 'nominal = "8 mm"', "the pipe draws air first"),
        # 9 in of reach on a pipe of 95 mm; 105 mm written as inches is 2667 mm.
        ('nominal    = "105 mm"', 'nominal = "9 in"', "is not that of the pipe"),
        ('nominal    = "105 mm"', 'nominal = "105 in"', "meant in mm, and written in inches"),
        ('nominal    = "105 mm"', 'nominal = "4.1 mm"', "meant in inches, and written in mm"),
        ('nominal    = "105 mm"', 'nominal = "1050 mm"', "a figure too many"),
        # A wall for an outside diameter; a wall thicker than its hole.
        ('nominal = "0.4 mm"\nprocess', 'nominal = "4 mm"\nprocess', "more wall than hole"),
        ('nominal = "5 mm"\nprocess', 'nominal = "60 mm"\nprocess', "hardly goes into a sump"),
        ('nominal    = "45 mm"', 'nominal = "60 mm"', "does not stand over the step"),
        ('nominal = "8 mm"\nprocess', 'nominal = "1.5 mm"\nprocess', "reaches below it"),
        ('nominal    = "60 ml"', 'nominal = "90 ml"', "its bottom cannot run out"),
        # A drill for small holes on a height, and on a bore that is larger.
        (
            'process = "hole_punched_on_height_gauge_lines"', 'process = "drilled_1_to_3_mm"',
            "makes a hole, and this is no bore",
        ),
        (
            'process = "bought_copper_tube_bore"', 'process = "drilled_1_to_3_mm"',
            "is for 1 to 3 mm",
        ),
        (
            'nominal    = "3.2 mm"\nplus_minus = "0.1 mm"',
            'nominal    = "3.2 mm"\nplus_minus = "4 mm"',
            "as wide as the size itself",
        ),
    ],
)  # fmt: skip
def test_what_is_implausible_is_said(old, new, words):
    found = said((old, new))
    assert any(words in says for says in found), found


def test_a_slanted_mouth_may_begin_below_the_outlets_top():
    """Its highest point stands a bore times the tangent of the slant above its lowest: 8 + 5 mm."""
    low = ('nominal = "12.3 mm"', 'nominal = "8 mm"')
    slanted = ('nominal = "0 deg"\nbetween = ["0 deg", "4 deg"]', 'nominal = "45 deg"')
    assert not [says for says in said(low, slanted) if "draws air first" in says]


def test_what_is_borrowed_is_not_called_implausible_as_well():
    without = PIPE.read_text(encoding="utf-8").replace('nominal    = "105 mm"\n', "", 1)
    study = study_of_text(without, PIPE)
    assert not implausible(study)
    words = borrowed_in_words(study)
    assert words.startswith("Not stated, so its model's own, of no burner of yours:")
    assert "reach" in words
    assert "95 mm" in words


OWN = '''"""A model of one's own."""
from typing import Annotated, NamedTuple
import numpy as np
Array = np.ndarray | float

class Out(NamedTuple):
    left: Annotated[Array, "ml", "what is left"]

def drain(
    flow: Annotated[Array, "ml/min", "what runs out"],
    volume: Annotated[Array, "ml", "what there is", "> 0", "build"],
) -> Out:
    """What is left after a minute."""
    return Out(volume - flow)
'''

FLOW = """models = ["drain"]
[inputs.flow]
nominal = "3 ml/min"
plus_minus = "1 ml/min"
[inputs.volume]
nominal = "60 ml"
plus_minus = "2 ml"
"""


@pytest.mark.parametrize(("kind", "told"), [("", True), ('kind = "build"', False)])
def test_a_flow_that_nobody_said_is_a_dimension_is_asked_about(tmp_path, monkeypatch, kind, told):
    monkeypatch.chdir(tmp_path)
    Path("own.py").write_text(OWN)
    Path("own.toml").write_text(FLOW.replace("[inputs.volume]", f"{kind}\n[inputs.volume]"))
    shown = " ".join(invoke("check", "own.toml", "--model-file", "own.py").stdout.split())
    assert ("low, in ml/min, is taken for a dimension" in shown) == told
    assert "olume, in ml, is taken" not in shown


def test_check_shows_it_and_names_what_is_borrowed_first(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    sizes = {"breather_height": "15 mm", "burner_height": "8 mm", "wick_lip_height": "6 mm"}
    stated = "".join(f'[inputs.{name}]\nnominal = "{size}"\n' for name, size in sizes.items())
    Path("odd.toml").write_text(f'models = ["fuel_level"]\n{stated}')
    ran = invoke("check", "odd.toml")
    assert ran.exit_code == 0
    shown = " ".join(ran.stdout.split())
    borrowed, table, odd = (
        shown.index(words)
        for words in ("of no burner of yours", "Without sampling", "Implausible in a workshop")
    )
    assert borrowed < table < odd
