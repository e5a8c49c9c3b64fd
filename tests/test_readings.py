"""Readings of finished parts in a CSV file: read in one way or told, and nothing else is read."""

import os

import pytest

from sensitivity.answers.built.readings import LARGEST_READINGS, heard_in_file, read_measured
from sensitivity.errors import CallError

HEAD = "input,measured,instrument\n"
SECRET = "hunter2"


@pytest.fixture
def heard(tmp_path):
    def hear(content):
        path = tmp_path / "readings.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return heard_in_file(path)

    return hear


def test_decimal_commas_between_semicolons_are_read(heard, read):
    text = "input;measured;instrument\nhole;10,03 mm;micrometer\nshare;0,52;\n"
    assert [one.measured for one in heard(text).readings] == ["10.03 mm", "0.52"]
    (one,) = read_measured(read(), heard(text.rpartition("share")[0]))
    assert one.value == 10.03


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (HEAD + "hole,10,03 mm,micrometer\n", ["line 2", "4 values", "decimal comma", "semicolon"]),
        (HEAD + "hole,10.03 mm,micrometer,hunter2\n", ["line 2", "4 values"]),
        ("input,measured,instrument,measured\nhole,10 mm,micrometer,11 mm\n", ["named twice"]),
        ("hunter2,measured,instrument\n", ["no column input"]),
        ("hunter2=1:hunter2\n", ["no column input or measured or instrument"]),
        (HEAD + 'hole,"10 mm,hunter2', ["line 2", "quotation mark"]),
        (b"\xff\xfehunter2", ["not text"]),
        ("", ["nothing in it"]),
        (b"#" * (LARGEST_READINGS + 1), ["larger than 1 MiB"]),
        (HEAD + "hole,10 mm,micrometer\n" * 1001, ["more than 1,000 rows"]),
    ],
)
def test_file_that_cannot_be_read_in_one_way(heard, content, says):
    found = heard(content)
    assert found.readings == ()
    (fault,) = found.faults
    for words in says:
        assert words in fault.problem
    assert SECRET not in str(fault)


def test_a_pipe_and_a_device_are_not_read(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    for path in (tmp_path / "pipe.csv", "/dev/zero"):
        (fault,) = heard_in_file(tmp_path / path).faults
        assert "not a file that can be read to its end" in fault.problem
    (fault,) = heard_in_file(tmp_path).faults
    assert "folder" in fault.problem


@pytest.mark.parametrize(
    ("measured", "near"),
    [("10.1 mm", True), ("12 mm", True), ("1.01 mm", False), ("101 mm", False), ("10 in", False)],
)
def test_reading_nowhere_near_the_nominal_is_told(heard, read, measured, near):
    found = heard(f"{HEAD}hole,{measured},micrometer\n")
    if near:
        assert len(read_measured(read(), found)) == 1
        return
    with pytest.raises(CallError, match=r"line 2, hole: .*nowhere near the nominal, 10 mm"):
        read_measured(read(), found)


@pytest.mark.parametrize("number", ["1_0", "\uff19", "0x1", "1e999"])
def test_pure_number_of_a_reading_is_read_strictly(heard, read, number):
    with pytest.raises(CallError, match="line 2, share"):
        read_measured(read(), heard(f"{HEAD}share,{number},protractor\n"))
