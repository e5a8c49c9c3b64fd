"""What a study says that works is to mean: ``keeps``, and limits that hurt."""

import pytest

from sensitivity.errors import StudyError
from sensitivity.study.file import read_study
from sensitivity.study.made import make_study
from sensitivity.study.statements import held, limit
from tests.strategies import GOOD

HURTS = 'models = ["pin_fit"]\n[limits.play]\nat_least = "0.05 mm"\n'


def test_nearly_all_moments_unless_a_study_says_otherwise(read):
    assert read(GOOD).keeps == 0.99
    assert read("keeps = 0.95\n" + GOOD).keeps == 0.95


@pytest.mark.parametrize("keeps", ["0.4", "1.0", "0.99999", "1", "true", "nan", "'0.95'", "[0.95]"])
def test_share_that_means_nothing_is_a_fault(write_study, model_file, keeps):
    path = write_study(f"keeps = {keeps}\n" + GOOD)
    with pytest.raises(StudyError) as refused:
        read_study(path, [str(model_file)])
    (fault,) = refused.value.faults
    assert (fault.key, fault.line) == ("keeps", 1)
    assert "from 0.5 to 0.9999" in fault.problem


def test_limit_that_hurts(read):
    (plain,) = read(HURTS).limits
    assert (plain.hurts, plain.ceiling) == (False, 0.001)
    (hurts,) = read(HURTS + "hurts = true\n").limits
    assert (hurts.hurts, hurts.ceiling) == (True, 0.001)
    (stricter,) = read(HURTS + "hurts = true\nceiling = 1e-5\n").limits
    assert (stricter.hurts, stricter.ceiling) == (True, 1e-5)


@pytest.mark.parametrize(
    ("keys", "key", "says"),
    [
        ("ceiling = 0.01", "ceiling", "hurts = true"),
        ("hurts = false\nceiling = 0.01", "ceiling", "hurts = true"),
        ("hurts = 1", "hurts", "found 1"),
        ("hurts = 'yes'", "hurts", "found 'yes'"),
        ("hurts = true\nceiling = 0.0", "ceiling", "above 0"),
        ("hurts = true\nceiling = 1.0", "ceiling", "below 1"),
        ("hurts = true\nceiling = '1 %'", "ceiling", "a number"),
    ],
)
def test_fault_of_a_limit_that_hurts(write_study, model_file, keys, key, says):
    path = write_study(HURTS + keys + "\n")
    with pytest.raises(StudyError) as refused:
        read_study(path, [str(model_file)])
    (fault,) = refused.value.faults
    assert fault.key == f"limits.play.{key}"
    assert says in fault.problem


def test_said_in_python(model_file):
    def made(**more):
        return make_study(
            models=["pin_fit"],
            inputs={"hole": held("10 mm")},
            limits=[limit("play", at_least="0.05 mm", **more.pop("of_limit", {}))],
            model_files=[str(model_file)],
            **more,
        )

    assert made().keeps == 0.99
    study = made(keeps=0.9, of_limit={"hurts": True, "ceiling": 0.01})
    assert study.keeps == 0.9
    assert (study.limits[0].hurts, study.limits[0].ceiling) == (True, 0.01)
    with pytest.raises(StudyError, match="keeps"):
        made(keeps=2.0)
