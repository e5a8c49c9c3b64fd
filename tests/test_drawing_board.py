"""The drawing board without a browser: who may speak with it, what an edit does, what is kept."""

import asyncio
import json
import shutil
import tomllib
from pathlib import Path

import pytest

from sensitivity.drawing_board import journal
from sensitivity.drawing_board.beside import beside
from sensitivity.drawing_board.board import Board
from sensitivity.drawing_board.differing import side_by_side
from sensitivity.drawing_board.edits import changed, read_changes, value_at
from sensitivity.drawing_board.face import catalogue, face
from sensitivity.drawing_board.guard import Keys
from sensitivity.drawing_board.server import application
from sensitivity.drawing_board.session import begin, edit, open_session, redo, save, undo
from sensitivity.drawing_board.task import read_action
from sensitivity.drawing_board.texts import text_of
from sensitivity.errors import CallError, SpiritlevelError
from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.sources import has_source
from sensitivity.study.toml_lines import outline

STUDY = Path(__file__).parents[1] / "studies" / "bramble" / "stepped_pipe.toml"
INCHES = Path(__file__).with_name("inch_pipe.toml")
HOST = "127.0.0.1:8000"


@pytest.fixture
def path(tmp_path):
    return Path(shutil.copy(STUDY, tmp_path / "pipe.toml"))


@pytest.fixture
def session(path):
    return open_session(path)


def drop(value, key="nominal"):
    return read_changes([{"path": ["inputs", "drop", key], "value": value}])


def ask(app, method="GET", path="/state", query="", body=b"", **headers):
    """Ask an ASGI application once; its status, headers and body."""
    sent = []

    async def receive():
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message):
        sent.append(message)

    pairs = [(k.replace("_", "-").encode(), v.encode()) for k, v in headers.items() if v]
    scope = {"type": "http", "method": method, "path": path, "raw_path": path.encode(),
             "query_string": query.encode(), "headers": pairs, "scheme": "http",
             "server": ("127.0.0.1", 8000), "client": ("127.0.0.1", 1), "root_path": "",
             "http_version": "1.1", "asgi": {"version": "3.0"}}  # fmt: skip
    asyncio.run(app(scope, receive, send))
    found = {k.decode(): v.decode() for k, v in sent[0]["headers"]}
    return sent[0]["status"], found, b"".join(each.get("body", b"") for each in sent[1:])


@pytest.fixture
def served(session):
    keys = Keys(8000)
    board = Board(session)
    yield application(board, keys), keys, board
    board.close()


def test_only_the_boards_own_page_is_answered(served):
    app, keys, _ = served
    good = {"host": HOST, "cookie": f"{keys.name}={keys.cookie}"}
    assert ask(app, **good)[0] == 200
    for wrong, status in (
        ({"host": "evil.example:8000"}, 421),
        ({"cookie": ""}, 403),
        ({"cookie": f"{keys.name}=guess"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"sec_fetch_site": "cross-site"}, 403),
    ):
        found = ask(app, **(good | wrong))
        assert found[0] == status, wrong
        assert "script-src 'self'" in found[1]["content-security-policy"]
    post = {**good, "origin": f"http://{HOST}", "content_type": "application/json"}
    assert ask(app, "POST", "/undo", body=b"{}", **post)[0] == 200
    for wrong, status in (({"origin": ""}, 403), ({"content_type": "text/plain"}, 415)):
        assert ask(app, "POST", "/undo", body=b"{}", **(post | wrong))[0] == status
    assert ask(app, "PUT", "/undo", **post)[0] == 405
    assert ask(app, "POST", "/edit", body=b"x" * 300_000, **post)[0] == 422


def test_the_token_is_good_once(served):
    app, keys, _ = served
    enter = {"path": "/enter", "host": HOST}
    assert ask(app, query="token=guess", **enter)[0] == 403
    status, headers, _ = ask(app, query=f"token={keys.token}", **enter)
    assert (status, headers["location"]) == (303, "/")
    assert {"HttpOnly", "SameSite=strict"} <= set(headers["set-cookie"].split("; "))
    assert ask(app, query=f"token={keys.token}", **enter)[0] == 403


def test_nothing_outside_the_board_is_served_or_named(served, session, tmp_path):
    app, keys, _ = served
    good = {"host": HOST, "cookie": f"{keys.name}={keys.cookie}"}
    (tmp_path / "report.html").write_text("secret", encoding="utf-8")
    for path in (
        "/static/../server.py",
        "/static/..%2fserver.py",
        "/written/pipe/report.html",
        "/written/../report.html",
    ):
        assert ask(app, path=path, **good)[0] == 404
    for words in (
        {"command": "compare", "other": "../x.toml"},
        {"command": "rm"},
        {"command": "learn", "trials": "../t.toml"},
    ):
        with pytest.raises(CallError):
            read_action(words, beside(session.path))
    for path in (["models"], ["doubts"], ["inputs", "drop", "__class__"], ["inputs"]):
        with pytest.raises(CallError, match="not changed here"):
            read_changes([{"path": path, "value": "x"}])
    empty = open_session(tmp_path / "new.toml", new=True)
    for names, file in ((["fuel_level"], "../x.toml"), (["os"], None), ([], None)):
        with pytest.raises(SpiritlevelError):
            begin(empty, names, file)
    assert empty.sheet is None


def test_an_edit_leaves_every_other_line_as_it_was_and_the_file_until_it_is_saved(session, path):
    before = path.read_text(encoding="utf-8")
    assert edit(session, drop("8.5"))  # in the study's own unit
    assert path.read_text(encoding="utf-8") == before
    save(session)
    old, new = before.split("\n"), path.read_text(encoding="utf-8").split("\n")
    assert [pair for pair in zip(old, new, strict=True) if pair[0] != pair[1]] == [
        ('nominal = "8 mm"', 'nominal = "8.5 mm"')
    ]
    assert not journal.place_of(path).exists()


def test_a_new_key_and_a_new_table_stand_before_the_comments_of_what_follows(session):
    changes = [
        {"path": ["inputs", "occlusion_bond_number", "group"], "value": "bubbles"},
        {"path": ["inputs", "breather_chamfer", "nominal"], "value": "0.5"},
    ]
    assert edit(session, read_changes(changes))
    text = session.sheet.text
    assert text.index("[inputs.breather_chamfer]\nnominal = 0.5") < text.index("# --- what must h")
    assert text.index('group = "bubbles"') < text.index("[inputs.breather_chamfer]")


def test_a_wrong_value_has_the_studys_own_message_and_loses_nothing(session, path):
    text = session.sheet.text
    assert not edit(session, drop("8.5 kg"))
    wrong = session.refused["inputs.drop.nominal"]
    assert wrong["value"] == "8.5 kg"
    assert "kg" in wrong["problem"]
    assert session.sheet.text == text
    assert open_session(path).refused == session.refused  # nor does a killed program
    assert edit(session, drop("8.5 mm"))
    assert session.refused == {}


def test_what_was_not_saved_is_there_after_a_kill_and_steps_go_back_and_forth(session, path):
    for value in ("8.1 mm", "8.2 mm"):
        edit(session, drop(value))
    place = journal.place_of(path)
    place.write_text(place.read_text(encoding="utf-8") + '{"text": "cut sh', encoding="utf-8")
    again = open_session(path)
    assert again.sheet.content["inputs"]["drop"]["nominal"] == "8.2 mm"
    undo(again)
    assert again.sheet.content["inputs"]["drop"]["nominal"] == "8.1 mm"
    undo(again)
    assert not again.unsaved
    assert not place.exists()
    redo(again)
    assert again.sheet.content["inputs"]["drop"]["nominal"] == "8.1 mm"


def test_a_file_changed_elsewhere_is_written_over_only_when_asked(session, path):
    edit(session, drop("8.1 mm"))
    path.write_text(path.read_text(encoding="utf-8") + "\n# mine\n", encoding="utf-8")
    with pytest.raises(CallError, match="changed elsewhere"):
        save(session)
    again = open_session(path)
    assert "changed elsewhere" in again.note
    undo(again)
    assert again.sheet.text.endswith("# mine\n")
    save(session, over=True)
    assert "# mine" not in path.read_text(encoding="utf-8")


def test_what_is_about_an_older_drawing_is_not_told(served):
    _, _, board = served
    board._tell({"kind": "level", "revision": board.session.revision})
    board._tell({"kind": "views", "revision": board.session.revision - 1})
    assert [json.loads(each)["kind"] for each in board._told.values()] == ["level"]


def test_an_edit_is_answered_with_its_margins_and_begun_on_when_they_are_shown(served):
    _, _, board = served
    begun = []
    board._start = lambda action: begun.append(board.session.revision)
    changes = [{"path": ["inputs", "drop", "nominal"], "value": "8.5"}]
    told = board.edit({"changes": changes})
    assert (told["taken"], told["revision"], begun) == (True, 2, [])
    assert "inputs" not in told
    rest = board.rest()
    assert begun == [2]
    assert rest["drawn"] == told["drawn"]
    (drop_now,) = [each for each in rest["inputs"] if each["name"] == "drop"]
    assert drop_now["drawn"] == "8.5 mm"
    assert board.rest() == rest  # asked again, nothing is begun again
    # A refused value changes nothing, so what is being worked out goes on and is still shown.
    refused = board.edit({"changes": [{**changes[0], "value": "8.5 kg"}]})
    assert (refused["taken"], refused["revision"]) == (False, 2)
    board.rest()
    assert begun == [2]


def test_a_text_made_of_a_text_is_what_reading_it_anew_gives(session):
    changes = [
        ({"path": ["inputs", "drop", "nominal"]}, ["9 mm", "9.25 mm", '9 mm" # no', "9 # 1"]),
        ({"path": ["inputs", "drop", "basis"]}, ["by\nguess", "'quoted'", "[no table]", ""]),
        ({"path": ["inputs", "breather_height", "adjust"]}, [["9 mm", "15 mm"]]),
        ({"path": ["keeps"]}, [0.95, 1, None]),
    ]
    text = session.sheet.text
    for at, values in changes:
        for value in values:
            (change,) = read_changes([{**at, "value": value}])
            text = changed(text, [change])
            read = tomllib.loads(text)
            assert text_of(text).content == read
            assert text_of(text).outline.lines == outline(text).lines
            assert value_at(read, change.path) == value


def test_an_action_takes_what_its_command_takes(session):
    near = beside(session.path)
    asked = {"command": "window", "inputs": ["drop", "rise"], "lowest": ["6 mm", "5 mm"]}
    action = read_action({**asked, "target": 90}, near)
    assert (action.inputs, action.lowest, action.target) == (
        ("drop", "rise"),
        ("6 mm", "5 mm"),
        0.9,
    )
    measured = {"command": "measure", "at_hand": ["steel_rule"]}
    assert read_action(measured, near).at_hand == ("steel_rule",)
    with pytest.raises(CallError, match="own folder"):
        read_action({"command": "built", "readings": "../read.csv"}, near)
    learnt = {"command": "learn", "seen": ["it floods"], "doubts": "learnt.json"}
    assert read_action(learnt, near).doubts == "learnt.json"
    for name in ("../learnt.json", "learnt.toml", "a/b.json", ".json", 7):
        with pytest.raises(CallError, match="own folder"):
            read_action({**learnt, "doubts": name}, near)


def test_a_study_from_nothing_is_whole_when_all_that_is_asked_is_given(tmp_path):
    session = open_session(tmp_path / "new.toml", new=True)
    begin(session, ["fuel_level"], "mine.toml", "inch")
    asked = {fault.key: fault.asked.example for fault in session.sheet.faults if fault.asked}
    assert asked
    for key, example in asked.items():
        _, name, *_ = key.split(".")
        change = {"path": ["inputs", name, "nominal"], "value": example.strip('"')}
        assert edit(session, read_changes([change])), session.refused
    assert session.sheet.study is not None
    save(session)
    assert open_session(tmp_path / "mine.toml").sheet.study.units == "inch"


def test_four_wicks_are_asked_about_alike_and_a_fifth_is_not_there(tmp_path):
    session = open_session(tmp_path / "new.toml", new=True)
    begin(session, ["fuel_level", "wicks"])

    def lips():
        shown = {each["name"]: each for each in face(session)["inputs"]}
        return {name: each["stated"] for name, each in shown.items() if "lip_error" in name}

    for count in (4, 6, 2, 4):
        change = {"path": ["inputs", "wick_count", "nominal"], "value": str(count)}
        assert edit(session, read_changes([change])), session.refused
        assert list(lips()) == [f"wick_lip_error_{place}" for place in range(1, count + 1)]
        assert len({tuple(stated.items()) for stated in lips().values()}) == 1
        assert face(session)["exact"] == []
    none = {"path": ["inputs", "wick_lip_error_3", "process"], "value": None}
    assert edit(session, read_changes([none]))
    assert face(session)["exact"] == ["wick_lip_error_3"]


def test_a_spread_that_is_chosen_is_not_suggested_any_more(tmp_path):
    session = open_session(tmp_path / "new.toml", new=True)
    begin(session, ["stepped_pipe"])

    def chosen(**keys):
        changes = [{"path": ["inputs", "run_1", k], "value": v} for k, v in keys.items()]
        assert edit(session, read_changes(changes)), session.refused
        return session.sheet.content["inputs"]["run_1"].get("basis")

    assert chosen(nominal="40 mm").startswith("suggested")
    process = workshop_table("process")["cnc_part_up_to_6_mm"]
    assert chosen(process=process.name) == process.source
    own = chosen(process=None, plus_minus="0.3 mm")
    assert own == "my own figure, no source"
    assert not has_source("plus_minus", own)  # so that nothing claims a source which it has not
    assert chosen(basis="gauged on six of mine") == "gauged on six of mine"
    assert chosen(plus_minus="0.2 mm") == "gauged on six of mine"
    tool = workshop_table("instrument")["micrometer"]
    read = chosen(plus_minus=None, measured="40.1 mm", instrument=tool.name)
    assert read == tool.source
    assert chosen(measured=None, instrument=None) is None
    save(session)
    assert "basis" not in tomllib.loads(session.path.read_text())["inputs"]["run_1"]


def test_a_bare_number_is_in_the_unit_of_its_label_and_a_hundredfold_is_asked_back(session):
    def drawn():
        return session.sheet.content["inputs"]["drop"]["nominal"]

    assert edit(session, drop("1/2 in"))
    assert edit(session, drop("13"))
    assert drawn() == "13 mm"
    for before, typed, meant in (("13 mm", "1300", "1300 mm"), ("1300 mm", "0.1 in", "0.1 in")):
        assert not edit(session, drop(typed))
        problem = session.refused["inputs.drop.nominal"]["problem"]
        assert "enter it again if it is meant" in problem
        assert drawn() == before
        assert edit(session, drop(typed))
        assert drawn() == meant
        assert session.refused == {}


def test_what_stands_beside_is_told_apart_and_nothing_outside_the_folder(path, tmp_path):
    outside = tmp_path.parent / f"{tmp_path.name}_outside.toml"
    shutil.copy(STUDY, outside)
    (tmp_path / "link.toml").symlink_to(outside)
    shutil.copy(STUDY, tmp_path / "other.toml")
    (tmp_path / "notes.toml").write_text('words = "no study"\n', encoding="utf-8")
    (tmp_path / "broken.toml").write_text("[[", encoding="utf-8")
    (tmp_path / "trials").mkdir()
    shutil.copy(STUDY.parent / "trials" / "first_lighting.toml", tmp_path / "trials" / "a.toml")
    (tmp_path / "read.csv").write_text("input,measured,instrument\n", encoding="utf-8")
    (tmp_path / "lengths.csv").write_text("length\n8\n", encoding="utf-8")
    assert beside(path) == (("other.toml",), ("trials/a.toml",), ("read.csv",))


def test_two_designs_differ_where_a_nominal_or_a_spread_does(session):
    saved = session.sheet.study
    edit(session, drop("8.5 mm"))
    assert edit(session, [*drop(None, "process"), *drop("0.4 mm", "plus_minus")])
    sides = side_by_side((session.sheet.study, saved), ("mine", "theirs"))
    assert sides["names"] == ["drop"]
    words = sides["html"].replace("\N{NO-BREAK SPACE}", " ")
    assert "8.5 mm, ± 0.4 mm" in words
    assert "8 mm, ± 0.3 mm" in words
    mine, theirs = (" ".join(view["svg"] for view in each["views"]) for each in sides["designs"])
    assert "8.5 mm" in mine
    assert "8.5 mm" not in theirs


def test_a_slider_has_the_ends_the_nominal_and_round_steps_between(session):
    (breather,) = [each for each in face(session)["inputs"] if each["settings"]]
    stated = [each["stated"] for each in breather["settings"]]
    assert breather["name"] == "breather_height"
    assert (stated[0], stated[-1]) == ("9 mm", "16 mm")
    assert {"12.2 mm", "12.3 mm", "12.4 mm"} <= set(stated)  # the nominal between steps of 0.2 mm
    assert len(stated) < 70


def test_a_spread_is_said_in_the_studys_own_units(tmp_path):
    session = open_session(Path(shutil.copy(INCHES, tmp_path / "inches.toml")))
    spreads = {each["name"]: each["spread"] for each in face(session)["inputs"]}
    assert "thou" in spreads["breather_height"]
    assert not [words for words in spreads.values() if "mm" in words]


def test_an_inch_study_speaks_inches_before_all_is_given_and_takes_a_tube(tmp_path):
    session = open_session(tmp_path / "new.toml", new=True)
    begin(session, ["stepped_pipe", "fuel_level"], None, "inch")
    inputs = {each["name"]: each for each in face(session)["inputs"]}
    assert inputs["pipe_bore"]["unit"] == "in"
    assert inputs["pipe_bore"]["tube"]
    assert not inputs["drop"]["tube"]
    lengths = [e for e in catalogue(session)["instruments"] if e["quantity"] == "length"]
    assert lengths
    assert not [each["leaves"] for each in lengths if "mm" in each["leaves"].split(", ")[0]]
    half = [{"path": ["inputs", "drop", "nominal"], "value": "half an inch"}]
    assert not edit(session, read_changes(half))
    problem = session.refused["inputs.drop.nominal"]["problem"]
    assert " in" in problem
    assert "mm" not in problem
    changes = [
        {"path": ["inputs", "pipe_bore", "nominal"], "value": None},
        {"path": ["inputs", "pipe_bore", "tube"], "value": "1/8 in x 22 SWG"},
    ]
    assert edit(session, read_changes(changes)), session.refused
    asked = {fault.key for fault in session.sheet.faults if fault.asked}
    assert not asked & {"inputs.pipe_bore.nominal", "inputs.pipe_wall.nominal"}
