"""What an annotation says beside unit and meaning."""

from typing import Annotated, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from sensitivity.study.starter import starter_study
from sensitivity.system.catalogue import read_model
from sensitivity.system.remarks import RemarkError, read_remarks
from sensitivity.system.system import wire

Array = NDArray[np.float64] | float


class Out(NamedTuple):
    gap: Annotated[Array, "mm", "what is left", "read as height"]


def fit(
    height: Annotated[Array, "mm", "of the mouth", "> 0", "read as height"] = 12.0,
    grade: Annotated[Array, "%", "of the track", "running: +-0.8 normal"] = 0.0,
    clings: Annotated[Array, "", "a doubt", "0..1", "model: 0.6..1 triangular"] = 0.9,
) -> Out:
    """A fit."""
    return Out(height * clings + grade)


@pytest.mark.parametrize(
    ("text", "unit", "kind", "spread"),
    [
        ("model", "mm", "model", ()),
        ("running: +-0.8 normal", "%", "running", (("plus_minus", "0.8 %"), ("shape", "normal"))),
        ("model: 0.6..1", "", "model", (("between", (0.6, 1.0)),)),
        (
            "model: 3..20 log_uniform", "Pa",
            "model", (("between", ("3 Pa", "20 Pa")), ("shape", "log_uniform")),
        ),
        ("model: lognormal 50 %", "", "model", (("lognormal", "50 %"),)),
    ],
)  # fmt: skip
def test_kind_and_honest_spread(text, unit, kind, spread):
    said = read_remarks([text], unit)
    assert (said.kind, said.spread) == (kind, spread)


def test_each_remark_is_told_by_its_form():
    said = read_remarks(["> 0", "running", "read as bore", "per step"], "mm")
    assert (said.range.stated, said.kind, said.read_as, said.per_step) == (
        "> 0", "running", "bore", True,
    )  # fmt: skip


@pytest.mark.parametrize(
    "text", ["about 3", "model: some", "read as thing", "build: 1..", "running: 2"]
)
def test_what_has_no_form_is_refused(text):
    with pytest.raises(RemarkError):
        read_remarks([text], "mm")


def test_new_study_carries_what_the_model_declares():
    text = starter_study(wire((read_model("fit", fit, "here"),)))
    assert 'plus_minus = "0.8 %"' in text
    assert 'kind = "running"' in text
    assert "between = [0.6, 1.0]" in text
    assert 'kind = "model"' in text
