"""Bad input: a clear message and the right exit status, nothing half-written, never a traceback."""

import re
import tempfile
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.conftest import invoke
from tests.strategies import GOOD, MODELS, QUICK, mutated_studies, toml_texts

HEAD = 'models = ["pin_fit"]\n'
HOLE = HEAD + '[inputs.hole]\nnominal = "10 mm"\n'
VARY = HOLE + 'plus_minus = "0.2 mm"\n'


@pytest.fixture
def refused(run_study, tmp_path):
    """Run a study that must be refused with exit status 2; return the message."""

    def refuse(text, *words, command="run"):
        ran = run_study(text, *words, command=command)
        assert ran.exit_code == 2, ran
        assert ran.stdout == ""
        assert ran.stderr.startswith("spiritlevel: ")
        assert "Traceback" not in ran.stderr
        assert "a fault in spiritlevel itself" not in ran.stderr
        left = {path.name for path in tmp_path.iterdir()}
        assert not [name for name in left if name.endswith("-results") or name.startswith(".")]
        return ran.stderr

    return refuse


# --- no study at all ----------------------------------------------------------------------------

NO_STUDY = [
    ("empty", b"", "is empty"),
    ("blank", b" \n\t\n", "is empty"),
    ("only a mark", b"\xef\xbb\xbf", "is empty"),
    ("only remarks", b"# nothing\n", "models"),
    ("not TOML", b"hole: 10 mm\n", "not TOML"),
    ("half a line", b'title = "x\n', "not TOML"),
    ("key twice", b'title = "x"\ntitle = "y"\n', "not TOML"),
    ("table twice", b"[inputs.hole]\n[inputs.hole]\n", "not TOML"),
    ("binary", bytes(range(256)), "not text"),
    ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00", "not text"),
    ("two bytes a letter", GOOD.encode("utf-16"), "not text"),
    ("10 MB of TOML", b'x = "0123456789abcdef0123456789abcdef"\n' * 256_000, "larger than"),
    ("10 MB of one line", b'x = "' + b"9" * 10_000_000 + b'"\n', "larger than"),
    ("zeros", b"\x00" * 100, "not TOML"),
]


@pytest.mark.parametrize("command", ["run", "check"])
@pytest.mark.parametrize(
    ("content", "says"), [case[1:] for case in NO_STUDY], ids=[case[0] for case in NO_STUDY]
)
def test_file_that_is_no_study(run_command, tmp_path, model_file, content, says, command):
    path = tmp_path / "study.toml"
    path.write_bytes(content)
    ran = run_command(command, path, "--model-file", model_file)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert str(path) in ran.stderr
    assert says in ran.stderr
    assert [item.name for item in tmp_path.iterdir()] == ["study.toml"]


def test_study_that_is_not_there_or_a_folder(run_command, tmp_path):
    ran = run_command("run", tmp_path / "gone.toml")
    assert (ran.exit_code, "no such file" in ran.stderr) == (2, True)
    ran = run_command("run", tmp_path)
    assert (ran.exit_code, "folder" in ran.stderr) == (2, True)


def test_line_of_what_is_not_toml(refused):
    assert "line 3" in refused('title = "x"\n\nmodels = [pin_fit]\n')


def test_study_that_may_not_be_read_is_the_machines_fault(run_study, monkeypatch):
    def denied(path, largest):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("sensitivity.study.file.read_regular", denied)
    ran = run_study(GOOD)
    assert ran.exit_code == 1
    assert "permission denied" in ran.stderr.lower()
    assert "study.toml" in ran.stderr


# --- the list of issue 2 ------------------------------------------------------------------------

LISTED = [
    ("unknown model", "models = ['pin_fits']\n", ["pin_fits", '"pin_fit"', "line 1"]),
    ("unknown key", HOLE + "plusminus = '0.1 mm'\n", ["plusminus", '"plus_minus"', "line 4"]),
    ("wrong unit", HEAD + "[inputs.hole]\nnominal = '10 K'\n", ['"K"', '"mm"', "line 3"]),
    ("infinite", HEAD + "[inputs.share]\nnominal = inf\n", ["inf", "line 3"]),
    ("not a number", HEAD + "[inputs.share]\nnominal = nan\n", ["nan", "line 3"]),
    ("infinite text", HEAD + "[inputs.hole]\nnominal = 'inf mm'\n", ["inf mm", "line 3"]),
    ("too large", HEAD + "[inputs.hole]\nnominal = '1e999 mm'\n", ["1e999 mm", "line 3"]),
    ("negative spread", HOLE + "plus_minus = '-0.2 mm'\n", ["-0.2 mm", "line 4"]),
    ("negative deviation", HOLE + "standard_deviation = '-1 mm'\n", ["-1 mm", "line 4"]),
    ("zero width", HOLE + "plus_minus = '0 mm'\n", ["0 mm", "above zero", "line 4"]),
    ("no width", HOLE + "between = ['10 mm', '10 mm']\n", ["10 mm", "line 4"]),
    ("limits reversed", VARY + "[limits.play]\nat_least = '1 mm'\nat_most = '0 mm'\n",
     ["reversed", "line 7"]),
    ("correlation with itself", VARY + "[[correlations]]\ninputs = ['hole', 'hole']\nrank = 0.5\n",
     ["itself", "line 6"]),
    ("points not a power of two", VARY + "[sampling]\npoints = 1000\n",
     ["1000", "power of two", "line 6"]),
    ("replicates", VARY + "[sampling]\nreplicates = 4\n", ["found 4", "at least 8", "line 6"]),
    ("nothing varies", HOLE, ["no input varies", "plus_minus"]),
    ("target without limits", VARY + "[sampling]\ntarget_half_width = 0.01\n",
     ["target_half_width", "[limits]"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "says"), [case[1:] for case in LISTED], ids=[case[0] for case in LISTED]
)
def test_listed_fault(refused, text, says):
    message = refused(text)
    for words in says:
        assert words in message


def test_contradictory_ranks_are_named(refused):
    pairs = (("hole", "pin", 0.9), ("pin", "depth", 0.9), ("hole", "depth", -0.9))
    text = HEAD + "".join(
        f"[inputs.{name}]\nplus_minus = '0.1 mm'\n" for name in ("hole", "pin", "depth")
    )
    text += "".join(
        f"[[correlations]]\ninputs = ['{one}', '{other}']\nrank = {rank}\n"
        for one, other, rank in pairs
    )
    message = refused(text)
    for one, other, rank in pairs:
        assert f"{one} with {other} {rank}" in message


# --- what only a malicious or broken file holds -------------------------------------------------

STRANGE = [
    ("lists in lists", HEAD + "x = " + "[" * 3000 + "]" * 3000),
    ("dots on dots", HEAD + "title" + ".a" * 3000 + " = 1\n"),
    ("dots in an input", HEAD + "[inputs.hole]\nnominal" + ".a" * 3000 + " = 1\n"),
    ("dots in a limit", HEAD + "limits" + ".a" * 3000 + " = 1\n"),
    ("a whole number of 5000 digits", VARY + "[sampling]\nseed = " + "9" * 5000 + "\n"),
    ("a whole number past all floats", HEAD + "[inputs.share]\nnominal = " + "9" * 400 + "\n"),
    ("a fraction of 400 digits", HEAD + f"[inputs.hole]\nnominal = '{'9' * 400}/7 mm'\n"),
    ("a fraction of 5000 digits", HEAD + f"[inputs.hole]\nnominal = '{'9' * 5000}/7 mm'\n"),
    ("a mixed number of 400 digits", HEAD + f"[inputs.hole]\nnominal = '{'9' * 400} 1/2 mm'\n"),
    ("divided by nothing", HEAD + "[inputs.hole]\nnominal = '5/0 mm'\n"),
    ("a share squared past all floats", HOLE + "lognormal = '1e200'\n"),
    ("a half-width below the last digit", HOLE + "plus_minus = '1e-20 mm'\nshape = 'triangular'\n"),
    ("a file name with a zero in it", HOLE + 'samples = "a\\u0000b.csv:x_mm"\n'),
    ("inputs a number", HEAD + "inputs = 3\n"),
    ("a list among the inputs", HEAD + "inputs = [1, [2]]\n"),
    ("an input a list", HEAD + "[[inputs.hole]]\nnominal = '10 mm'\n"),
    ("names that are not names", HEAD + '[inputs."a b.c [x]"]\nnominal = 3\n'),
    ("an empty name", HEAD + '[inputs.""]\nnominal = 3\n'),
    ("a name of 100 kB", HEAD + f"[inputs.{'a' * 100_000}]\nnominal = 3\n"),
    ("a value of 100 kB", HEAD + f"[inputs.hole]\nnominal = '{'x' * 100_000}'\n"),
    ("models of every sort", "models = [1, 2.0, 1979-05-27, {}]\n"),
]


@pytest.mark.parametrize("text", [case[1] for case in STRANGE], ids=[case[0] for case in STRANGE])
def test_strange_study_is_refused_like_any_other(refused, text):
    message = refused(text + ("" if "[sampling]" in text else QUICK))
    assert len(message) < 20_000  # and not the whole of it back


# --- model files --------------------------------------------------------------------------------


def models_with(line):
    """The models, the first with one more line before it returns."""
    return MODELS.replace("    return PinFit(play, ", f"    {line}\n    return PinFit(play, ")


def models_returning(play):
    """The models, the first with another expression for its play."""
    return MODELS.replace("    return PinFit(play, ", f"    return PinFit({play}, ")


MODEL_FILES = [
    ("raises on import", "1 / 0\n", ["ZeroDivisionError"]),
    ("imports what is not there", "import no_such_package_here\n", ["no_such_package_here"]),
    ("leaves on import", "raise SystemExit(0)\n", ["SystemExit"]),
    ("syntax", "def pin_fit(:\n", ["SyntaxError", "line 1"]),
    ("no annotations", "def pin_fit(hole, pin):\n    return hole - pin\n", ["annotated", '"mm"']),
    ("empty", "", ["no public function"]),
    ("unknown unit", MODELS.replace('"mm", "bore of the hole"', '"furlong", "x"'),
     ["furlong", '"hole"', '"pin_fit"']),
    ("unknown range", MODELS.replace('"bore of the hole", "> 0"', '"x", "positive"'),
     ["positive", '"hole"']),
    ("no meaning", MODELS.replace('"mm", "bore of the hole", "> 0", "read as bore"', '"mm"'),
     ['"hole"']),
    ("raises", models_with("raise RuntimeError('it gives up')"),
     ['"pin_fit"', "RuntimeError", "it gives up"]),
    ("leaves", models_with("raise SystemExit(0)"), ['"pin_fit"', "SystemExit"]),
    ("wrong shape", models_returning("np.ones(3)"), ['"pin_fit"', '"play"', "(3,)"]),
    ("one number too many", models_returning("np.append(play, 1.0)"), ["\"play\"", "(2,)"]),
    ("words", models_returning("'tight'"), ['"pin_fit"', '"play"', "str"]),
    ("nothing", models_with("return None"), ['"pin_fit"', "NoneType"]),
    ("a dict", models_with("return {'play': play}"), ['"pin_fit"', "dict"]),
    ("another's results", models_with("return Rattle(play)"), ['"pin_fit"', "Rattle", '"play"']),
    ("complex numbers", models_returning("play * (1 + 1j)"), ['"pin_fit"', '"play"']),
    ("no result", models_returning("None"), ['"pin_fit"', '"play"']),
    ("default outside its range",
     MODELS.replace('"read as depth"] = 20.0', '"read as depth"] = 0.0'),
     ["depth", "> 0"]),
    ("default no number", MODELS.replace("] = 20.0", "] = 'deep'"), ["depth", "number"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("content", "says"), [case[1:] for case in MODEL_FILES], ids=[case[0] for case in MODEL_FILES]
)
def test_model_file_that_misbehaves(run_command, write_study, tmp_path, content, says):
    path = tmp_path / "mine.py"
    path.write_text(content)
    ran = run_command("run", write_study(GOOD), "--model-file", path, "--workers", 1)
    assert (ran.exit_code, ran.stdout) == (2, ""), ran
    assert "Traceback" not in ran.stderr
    for words in ("mine.py", *says):
        assert words in ran.stderr
    assert sorted(item.name for item in tmp_path.iterdir()) == ["mine.py", "study.toml"]


@pytest.mark.parametrize("name", ["gone.py", "notes.txt"])
def test_model_file_that_is_none(run_command, write_study, tmp_path, name):
    (tmp_path / "notes.txt").write_text("notes")
    ran = run_command("run", write_study(GOOD), "--model-file", tmp_path / name)
    assert ran.exit_code == 2
    assert name in ran.stderr


def test_study_cannot_name_a_model_file(refused, tmp_path):
    (tmp_path / "mine.py").write_text("raise AssertionError('a study must not run code')\n")
    for models in ("['mine.py']", "['./mine.py']", "['file:mine.py']", "['mine:pin_fit']"):
        assert "no model" in refused(f"models = {models}\n")
    assert "model_file" in refused('model_file = "mine.py"\n' + GOOD)


# --- answers that are none ----------------------------------------------------------------------


@pytest.mark.usefixtures("no_figures")
@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("play = np.where(play > 0.2, np.nan, play)", "no answer"),
        ("play = np.where(play > 0.2, np.inf, play)", "no answer"),
        ("play = 0 * play", "does not vary"),
    ],
    ids=["for half", "infinite", "constant"],
)
def test_model_without_answers_still_gives_a_result_that_says_so(
    run_command, write_study, tmp_path, line, says
):
    path = tmp_path / "mine.py"
    path.write_text(models_with(line))
    ran = run_command("run", write_study(GOOD), "--model-file", path)
    assert ran.exit_code == 0, ran.stderr
    assert ran.stderr == ""
    assert says in ran.stdout


def test_drawing_without_an_answer_is_refused_and_says_which_model(
    run_command, write_study, tmp_path
):
    path = tmp_path / "mine.py"
    path.write_text(models_with("play = play * np.nan"))
    for command in ("run", "check"):
        ran = run_command(command, write_study(GOOD), "--model-file", path)
        assert (ran.exit_code, ran.stdout) == (2, "")
        for words in ("as drawn there is no answer for play", "pin_fit"):
            assert words in ran.stderr


def test_figures_of_results_without_answers(run_command, write_study, tmp_path):
    for number, line in enumerate(("play = 0 * play", "play = np.where(play > 0.4, play, 0.0)")):
        path = tmp_path / f"mine_{number}.py"
        path.write_text(models_with(line))
        ran = run_command("run", write_study(GOOD), "--model-file", path)
        assert (ran.exit_code, ran.stderr) == (0, "")


def test_figure_of_a_result_that_is_hardly_ever_another(run_command, write_study, tmp_path):
    # Fewer than one burner in 2000 differ: the histogram's range is a single value.
    path = tmp_path / "mine.py"
    path.write_text(models_with("play = np.where(hole > 10.1999, play, 0.0)"))
    ran = run_command("run", write_study(GOOD), "--model-file", path, "--points", 4096)
    assert (ran.exit_code, ran.stderr) == (0, "")


@pytest.mark.usefixtures("no_figures")
def test_drawn_values_outside_the_physical_range_fail_and_are_counted(run_study, tmp_path):
    text = GOOD.replace('nominal = "20 degC"', 'nominal = "20 degC"') + (
        "[inputs.share]\nnominal = 0.9\nplus_minus = 0.2\n"
    )
    ran = run_study(text)
    assert ran.exit_code == 0
    # Half-width 0.2 about 0.9, rectangular: a quarter of the draws lie above 1.
    assert re.search(r"share: [\d,]+ drawn values are physically impossible", ran.stdout)
    assert "0..1" in ran.stdout


# --- anything at all ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def den():
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


def ends_well(den, model_file, text, command):
    """Run a command on a text; whatever it is, it ends in a status that is known."""
    path = den / "study.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    words = ["--out", den / "out", "--points", 64, "--replicates", 8, "--workers", 1, "--quiet"]
    ran = invoke(command, path, "--model-file", model_file, *(words if command == "run" else []))
    assert ran.exit_code in {0, 2}, ran  # 1 and 3 have no cause here
    assert "Traceback" not in ran.stderr + ran.stdout
    assert (ran.exit_code == 2) == (ran.stderr != "")
    assert ran.exit_code == 0 or ran.stdout == ""
    assert {item.name for item in den.iterdir()} <= {"study.toml", "out"}
    return ran.exit_code


@settings(max_examples=70)
@given(toml_texts())
@example("inputs = 3\nmodels = ['pin_fit']\n")
def test_any_toml_like_text_is_refused_in_words(den, model_file, text):
    ends_well(den, model_file, text, "check")


@settings(max_examples=50)
@given(st.one_of(st.binary(max_size=60), st.text(max_size=60)))
def test_any_bytes_are_refused_in_words(den, model_file, content):
    ends_well(den, model_file, content, "check")


@pytest.mark.usefixtures("no_figures")
@pytest.mark.parametrize(("command", "count"), [("check", 120), ("run", 40)])
def test_any_change_of_a_good_study_is_answered_or_refused(den, model_file, command, count):
    ended = set()

    @settings(max_examples=count)
    @given(mutated_studies())
    def try_one(text):
        ended.add(ends_well(den, model_file, text, command))

    try_one()
    assert ended == {0, 2}  # the changes are of both sorts
