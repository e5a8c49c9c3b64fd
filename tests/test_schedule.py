"""A schedule of running conditions: from [[schedule]] to a model's per-step arguments."""

import numpy as np
import pytest

from sensitivity.engine.plan import plan_run
from sensitivity.engine.replicate import one_replicate
from sensitivity.errors import StudyError
from sensitivity.study.file import read_study

MODEL = """
from typing import Annotated, NamedTuple
import numpy as np
Array = np.ndarray
class Way(NamedTuple):
    climbed: Annotated[Array, "m", "height gained"]
    steps_seen: Annotated[Array, "", "steps met"]
def climb(
    length: Annotated[Array, "m", "length of the step", "> 0", "per step"] = 10.0,
    slope: Annotated[Array, "%", "gradient", "", "per step"] = 0.0,
    gain: Annotated[Array, "", "a factor"] = 1.0,
) -> Way:
    climbed = gain * (length * slope / 100.0).sum(axis=0)
    return Way(climbed, 0.0 * climbed + np.shape(length)[0])
"""


@pytest.fixture
def study(tmp_path):
    (tmp_path / "climb.py").write_text(MODEL)

    def read(text):
        (tmp_path / "study.toml").write_text('models = ["climb"]\n' + text)
        return read_study(tmp_path / "study.toml", [str(tmp_path / "climb.py")])

    return read


TWO_STEPS = """
[inputs.slope]
nominal = "2 %"
plus_minus = "1 %"
[[schedule]]
step = "on the level"
slope = "0 %"
[[schedule]]
step = "up the bank"
length = { nominal = "20 m", plus_minus = "2 m" }
[sampling]
seed = 1
replicates = 8
points = 64
"""


def test_nominal_takes_each_steps_own_value_and_the_plain_one_elsewhere(study):
    read = study(TWO_STEPS)
    values = {item.name: item.nominal for item in read.inputs}
    assert values["length.up_the_bank"] == 20.0
    assert values["slope.on_the_level"] == 0.0
    answer = read.system.evaluate(values)
    assert answer == {"climbed": pytest.approx(20.0 * 2.0 / 100.0), "steps_seen": 2.0}


def test_samples_arrive_with_the_step_first(study):
    read = study(TWO_STEPS)
    rows = one_replicate(plan_run(read), 0).sample
    expected = rows["length.up_the_bank"] * rows["slope"] / 100.0
    np.testing.assert_allclose(rows["climbed"], expected, rtol=1e-14)


def test_without_a_schedule_there_is_one_step(study):
    read = study('[inputs.slope]\nnominal = "1 %"\nplus_minus = "0.5 %"\n')
    values = {item.name: item.nominal for item in read.inputs}
    assert read.system.evaluate(values)["steps_seen"] == 1.0
    many = read.system.evaluate({**values, "slope": np.array([1.0, 2.0, 3.0])})
    np.testing.assert_allclose(many["climbed"], [0.1, 0.2, 0.3])


def test_only_what_a_changed_step_reaches_is_recomputed_and_rightly(study):
    read = study(TWO_STEPS)
    values = {item.name: item.nominal for item in read.inputs} | {"slope": np.linspace(1, 3, 5)}
    known = read.system.evaluate(values)
    changed = {**values, "length.up_the_bank": np.full(5, 30.0)}
    again = read.system.evaluate(changed, known, frozenset({"length.up_the_bank"}))
    np.testing.assert_array_equal(again["climbed"], read.system.evaluate(changed)["climbed"])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[schedule]]\nslope = '1 %'\n", "wants its name"),
        ("[[schedule]]\nstep = 'up'\n[[schedule]]\nstep = 'up'\n", "named twice"),
        ("[[schedule]]\nstep = 'up'\nslop = '1 %'\n", 'did you mean "slope"?'),
        ("[[schedule]]\nstep = 'up'\nslope = '1 mm'\n", "does not convert"),
        ("[[schedule]]\nstep = 'up'\nslope = { nominal = '1 %', plus = 1 }\n", "unknown key"),
    ],
)
def test_faults_of_a_schedule_name_their_line(study, text, words):
    with pytest.raises(StudyError, match=r"line [2-5]") as caught:
        study(text)
    assert words in str(caught.value)
