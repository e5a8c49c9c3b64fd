"""What decides whether a part works, asked for with ``run --totals``.

The figures are held to closed forms in ``tests/published/test_two_levels.py``.
"""

import csv
import json

import pytest

from tests.strategies import GOOD

TITLE = "What decides whether a part works"


@pytest.fixture(scope="module")
def asked(tmp_path_factory, model_file):
    from tests.conftest import invoke

    folder = tmp_path_factory.mktemp("totals")
    (folder / "study.toml").write_text(GOOD, encoding="utf-8")
    out = folder / "results"
    ran = invoke(
        "run", folder / "study.toml", "--model-file", model_file, "--out", out,
        "--totals", "--workers", 1,
    )  # fmt: skip
    assert ran.exit_code == 0, ran.stderr
    return ran, out


def test_document_has_parts_and_all_doubts_as_one_and_no_moment(asked):
    found = json.loads((asked[1] / "result.json").read_text("utf-8"))["part_totals"]
    assert set(found["totals"]) == {"hole", "pin", "model inputs"}
    assert found["doubt"] == "model inputs"
    assert found["evaluations"] > 0
    for total in found["totals"].values():
        low, high = total["interval"]
        assert low <= total["estimate"] <= high


def test_screen_report_and_table_say_the_same(asked):
    ran, out = asked
    with (out / "tables" / "part_totals.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    values = [float(row["total"]) for row in rows]
    assert values == sorted(values, reverse=True)
    report = " ".join((out / "report.html").read_text("utf-8").split())
    screen = " ".join(ran.stdout.split())
    for text in (screen, report):
        assert TITLE in text
        assert "all that the physics does not know" in text
        assert "a part that works does so in nearly all of them" in text
    assert "--totals" in report  # the command that gives the same again


def test_nobody_is_told_who_has_not_asked(finished):
    assert finished.document["part_totals"] is None
    assert TITLE not in finished.ran.stdout
    assert not (finished.folder / "tables" / "part_totals.csv").exists()


def test_where_all_parts_agree_nothing_decides(run_study, no_figures):
    text = GOOD.replace('"0.05 mm"', '"-9 mm"').replace('"1.2 deg"', '"89 deg"')
    ran = run_study(text, "--totals", "--workers", 1)
    assert ran.exit_code == 0, ran.stderr
    assert "so nothing decides which of them do" in " ".join(ran.stdout.split())


def test_without_limits_it_is_refused(run_study):
    ran = run_study(GOOD.partition("[limits.play]")[0], "--totals")
    assert ran.exit_code == 2
    assert "no limits are stated" in ran.stderr
