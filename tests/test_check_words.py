"""What `check` says beside its table, for whoever meets a worst case for the first time."""

import re
from pathlib import Path

import pytest

import sensitivity as sl
from sensitivity.answers.check.words import worst_case_in_words
from tests.conftest import invoke

STUDY = (Path(__file__).parent / "inch_level.toml").read_text(encoding="utf-8")


@pytest.fixture
def check(tmp_path, monkeypatch):
    """Check an inch study of some text from its own folder; what it says, on one line."""

    def told(text, name="mine.toml"):
        monkeypatch.chdir(tmp_path)
        Path(name).write_text(text, encoding="utf-8")
        ran = invoke("check", name)
        assert ran.exit_code == 0, ran.stderr
        return " ".join(ran.stdout.split())

    return told


def test_the_next_command_names_the_file(check):
    assert '"spiritlevel run wide_sump.toml" says how likely' in check(STUDY, "wide_sump.toml")


def test_a_worst_case_is_told_to_be_everything_at_once(check):
    varying = len(re.findall(r"^(?:plus_minus|between|process) ", STUDY, re.MULTILINE))
    told = check(STUDY)
    assert f"Worst case: all {varying} that vary" in told
    assert "hardly any burner ever is" in told


def test_where_little_varies_its_worst_case_is_not_called_rare(read):
    checked = sl.check(
        read('title = "one"\nmodels = ["pin_fit"]\n[inputs.hole]\nplus_minus = "0.1 mm"\n')
    ).found
    assert checked.study.varying
    assert "hardly" not in worst_case_in_words(checked)


def test_a_tube_is_read_back_with_the_wall_it_gave(check):
    # 3/16 in less twice 0.018 in, which is 26 SWG (BS 3737:1964, by trade_sizes.toml).
    text = STUDY.replace('nominal    = "3/16 in"', 'tube = "3/16 in x 26 SWG"')
    text = text.replace('nominal = "22 thou"\n', "")
    told = check(text)
    assert "breather bore (3) 3/16 in x 26 SWG (0.1515 in)" in told
    assert "breather wall (4) 26 SWG (0.018 in)" in told
    assert "tubes stated" not in check(STUDY)
