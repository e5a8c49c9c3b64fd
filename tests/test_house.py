"""The rules of the house that a machine can hold to."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = {"models": "sensitivity", "sensitivity": "models"}
MODULES = [
    path.relative_to(ROOT)
    for package in PACKAGES
    for path in sorted((ROOT / package).rglob("*.py"))
]


def imported(path):
    """Top-level names of all packages that a module imports, anywhere in it."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield path.parts[0]
            else:
                yield node.module.partition(".")[0]
        elif isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            first = node.args[0] if node.args else None
            if name in {"import_module", "__import__"} and isinstance(first, ast.Constant):
                yield str(first.value).partition(".")[0]


def test_there_are_modules_in_both_storeys():
    assert {path.parts[0] for path in MODULES} == set(PACKAGES)
    assert "numpy" in set(imported(Path("sensitivity/engine/sampling.py")))


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_storeys_do_not_know_each_other(path):
    assert PACKAGES[path.parts[0]] not in set(imported(path))


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_module_is_no_longer_than_400_lines(path):
    assert len((ROOT / path).read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_module_says_what_it_is(path):
    text = (ROOT / path).read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), path


def test_salib_stands_behind_one_module():
    assert [str(path) for path in MODULES if "SALib" in set(imported(path))] == [
        "sensitivity/engine/indices.py"
    ]


def test_models_import_no_engine_library():
    for path in MODULES:
        if path.parts[0] == "models":
            assert not {"SALib", "pint", "pydantic", "typer", "rich", "pandas"} & set(
                imported(path)
            )


def test_only_the_screen_and_the_commands_print():
    for path in MODULES:
        tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
        called = {
            node.func.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert "print" not in called, path


def test_no_module_is_called_utils():
    assert not [path for path in MODULES if "util" in path.stem]


ROOMS = (
    "errors",
    "interrupts",
    "quantities",
    "spreads",
    "system",
    "study",
    "engine",
    "presentation",
    "pricing",
    "learning",
    "answers",
    "drawing_board",
    "command_line",
)
"""Each room takes from those before it; data goes one way."""

COMMANDS = {"run", "check", "window", "tighten", "measure", "built", "compare", "learn", "redraw"}


def imported_modules(path):
    """Modules of the engine that a module imports, anywhere in it."""
    for node in ast.walk(ast.parse((ROOT / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sensitivity."):
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (a.name for a in node.names if a.name.startswith("sensitivity."))


IN_ROOMS = [path for path in MODULES if path.parts[0] == "sensitivity" and len(path.parts) > 2]


def test_every_folder_is_a_known_room():
    assert {path.parts[1] for path in IN_ROOMS} <= set(ROOMS)


@pytest.mark.parametrize("path", IN_ROOMS, ids=str)
def test_no_arrow_goes_back_up(path):
    allowed = ROOMS[: ROOMS.index(path.parts[1]) + 1]
    assert {module.split(".")[1] for module in imported_modules(path)} <= set(allowed)


@pytest.mark.parametrize("path", [p for p in IN_ROOMS if p.parts[1] == "answers"], ids=str)
def test_no_answer_takes_from_another(path):
    own = path.parts[2] if path.parts[2] in COMMANDS else None
    taken = {
        module.split(".")[2]
        for module in imported_modules(path)
        if module.startswith("sensitivity.answers.")
    }
    assert taken & COMMANDS <= {own}
