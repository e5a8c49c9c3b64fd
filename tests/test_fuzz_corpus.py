"""Every kept case of the fuzz, one that once failed, is refused in words or answered."""

import pytest

from tests.bench import fuzz_judging
from tests.bench.fuzz import corpus, cut_down, read_case
from tests.bench.fuzz_cases import Case, a_quantity, a_study
from tests.bench.fuzz_judging import RanAway, fault


@pytest.mark.parametrize("path", corpus(), ids=lambda path: path.name)
def test_kept_case_is_met(path):
    assert fault(read_case(path)) == ""


def test_there_are_cases_of_both_sorts():
    sorts = {path.suffix for path in corpus()}
    assert sorts == {".json", ".toml"}
    assert len(corpus()) > 20


def test_the_judge_finds_what_is_wrong(monkeypatch):
    sound = Case("1 mm", "mm")
    assert fault(sound) == ""
    assert fault(sound._replace(expected="refused")).startswith("AssertionError")
    for found in (float("nan"), float("inf"), "1"):
        monkeypatch.setattr(
            "sensitivity.quantities.quantity.read_quantity", lambda *_, found=found: found
        )
        assert fault(sound).startswith("AssertionError")
    monkeypatch.setattr("sensitivity.quantities.quantity.read_quantity", lambda text, unit: 1 / 0)
    assert fault(sound).startswith("ZeroDivisionError")
    monkeypatch.setattr("sensitivity.study.file.read_study", lambda *_: [][0])
    assert fault(Case("models = []")).startswith("IndexError")


def test_what_does_not_end_is_ended(monkeypatch):
    def without_end(text, unit):
        while True:
            pass

    monkeypatch.setattr("sensitivity.quantities.quantity.read_quantity", without_end)
    assert fault(Case("1 mm", "mm"), seconds=0.05).startswith(RanAway.__name__)


def test_a_failing_study_is_cut_down_to_the_line_that_matters(monkeypatch):
    def fails_at(case):
        return 1 / 0 if "bad" in case.text else "answered"

    monkeypatch.setattr(fuzz_judging, "judge", fails_at)
    case = Case("one\ntwo bad\nthree\n")
    assert cut_down(case, fault(case)).text == "two bad\n"


def test_cases_are_the_same_for_the_same_seed():
    import random

    def some(seed):
        rng = random.Random(seed)
        return [a_quantity(rng) for _ in range(20)] + [
            a_study(rng, ["models = []\nx = 1"]) for _ in range(20)
        ]

    assert some(3) == some(3) != some(4)
