"""Models as read from their signature: what makes one, what is refused and in which words."""

import pickle
from dataclasses import dataclass
from importlib.metadata import entry_points
from typing import Annotated, NamedTuple

import pytest

from sensitivity.errors import ModelFileError, WiringError
from sensitivity.system.catalogue import (
    ENTRY_POINT_GROUP,
    available_models,
    find_models,
    installed_model,
    models_in_file,
    read_model,
)
from tests.strategies import MODELS

Length = Annotated[float, "mm", "a length"]


class Out(NamedTuple):
    total: Annotated[float, "mm", "sum"]


@dataclass
class OutToo:
    total: Annotated[float, "mm", "sum"]


def test_signature_is_read_whole(model_file):
    model = models_in_file(str(model_file))["pin_fit"]
    hole, *_, flow = model.arguments
    assert (hole.name, hole.unit, hole.meaning, hole.default) == (
        "hole",
        "mm",
        "bore of the hole",
        10.0,
    )
    assert (hole.range.stated, flow.range.stated) == ("> 0", ">= 0")
    assert [result.name for result in model.results] == ["play", "lean", "leak"]
    assert [result.unit for result in model.results] == ["mm", "deg", "ml/min"]
    assert model.description.startswith("Play and lean of a pin in a hole.")


def test_argument_without_default_has_none(model_file):
    length, load = models_in_file(str(model_file))["bolt"].arguments
    assert (length.default, load.default) == (None, 100.0)


@pytest.mark.parametrize(
    ("stated", "inside", "outside"),
    [
        ("> 0", [1e-300, 5.0], [0.0, -1.0]),
        (">= 0", [0.0, 5.0], [-1e-300]),
        ("< 5", [4.999, -9.0], [5.0]),
        ("<= 5", [5.0], [5.001]),
        ("0..1", [0.0, 0.5, 1.0], [-0.001, 1.001]),
        ("-5 .. -1e-3", [-5.0, -0.001], [0.0, -5.1]),
        (" >  0.5 ", [0.51], [0.5]),
        ("", [-1e300, 0.0], []),
    ],
)
def test_physical_range(stated, inside, outside):
    def model(size: Annotated[float, "mm", "size", stated]) -> Out: ...

    model.__annotations__ = {"size": Annotated[float, "mm", "size", stated], "return": Out}
    (argument,) = read_model("m", model, "here").arguments
    assert all(argument.range.holds(value) for value in inside)
    assert not any(argument.range.holds(value) for value in outside)
    assert not argument.range.holds(float("nan")) or not stated


def test_dataclass_will_do_for_results():
    def model(size: Length = 1.0) -> OutToo: ...

    assert [item.name for item in read_model("m", model, "here").results] == ["total"]


def no_annotation(size=1.0) -> Out: ...
def plain_float(size: float = 1.0) -> Out: ...
def unit_alone(size: Annotated[float, "mm"] = 1.0) -> Out: ...
def unknown_unit(size: Annotated[float, "furlong", "a length"] = 1.0) -> Out: ...
def strange_range(size: Annotated[float, "mm", "a length", "positive"] = 1.0) -> Out: ...
def text_default(size: Length = "1 mm") -> Out: ...
def none_default(size: Length = None) -> Out: ...
def many(*sizes: Length) -> Out: ...
def named(**sizes: Length) -> Out: ...
def by_place(size: Length, /) -> Out: ...
def returns_nothing(size: Length = 1.0): ...
def returns_float(size: Length = 1.0) -> float: ...
def returns_tuple(size: Length = 1.0) -> tuple[float, float]: ...
def returns_annotated(size: Length = 1.0) -> Annotated[float, "mm", "sum"]: ...
def unknown_word(size: "Lenght" = 1.0) -> Out: ...  # noqa: F821


class Bare(NamedTuple):
    total: float


class Unknown(NamedTuple):
    total: Annotated["Lenght", "mm", "sum"]  # noqa: F821


def returns_bare(size: Length = 1.0) -> Bare: ...
def returns_unknown(size: Length = 1.0) -> Unknown: ...


@pytest.mark.parametrize(
    ("function", "says"),
    [
        (no_annotation, '"size"'),
        (plain_float, '"size"'),
        (unit_alone, '"size"'),
        (unknown_unit, "furlong"),
        (strange_range, "positive"),
        (text_default, "must be a number"),
        (none_default, "must be a number"),
        (many, "plain named argument"),
        (named, "plain named argument"),
        (by_place, "plain named argument"),
        (returns_nothing, "NamedTuple or a dataclass"),
        (returns_float, "NamedTuple or a dataclass"),
        (returns_tuple, "NamedTuple or a dataclass"),
        (returns_annotated, "NamedTuple or a dataclass"),
        (returns_bare, '"total"'),
        (unknown_word, "Lenght"),
        (returns_unknown, "Lenght"),
    ],
    ids=lambda one: getattr(one, "__name__", None),
)
def test_signature_that_is_refused(function, says):
    with pytest.raises(ModelFileError, match=says) as refused:
        read_model("mine", function, "file:mine.py")
    assert '"mine"' in str(refused.value)
    assert "of mine.py)" in str(refused.value)


def test_default_outside_its_own_range_is_refused():
    def model(size: Annotated[float, "mm", "a length", "> 0"] = 0.0) -> Out: ...

    with pytest.raises(ModelFileError, match="size"):
        read_model("m", model, "here")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_default_that_is_no_number_is_refused(value):
    def model(size: Length = value) -> Out: ...

    with pytest.raises(ModelFileError, match="size"):
        read_model("m", model, "here")


# --- files --------------------------------------------------------------------------------------


def test_public_functions_of_a_file_and_no_others(model_file):
    assert set(models_in_file(str(model_file))) == {"pin_fit", "rattle_heard", "bolt"}


def test_what_a_file_imports_is_not_its_own(tmp_path):
    path = tmp_path / "mine.py"
    path.write_text("from models.fuel_level import fuel_level\n" + MODELS)
    assert "fuel_level" not in models_in_file(str(path))


def test_file_with_annotations_as_text(tmp_path):
    path = tmp_path / "later.py"
    path.write_text("from __future__ import annotations\n" + MODELS)
    assert models_in_file(str(path))["pin_fit"].arguments[0].unit == "mm"


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("raises.py", b"1 / 0\n", "ZeroDivisionError"),
        ("syntax.py", b"def (\n", "SyntaxError"),
        ("imports.py", b"import no_such_package_here\n", "no_such_package_here"),
        ("leaves.py", b"raise SystemExit(0)\n", "SystemExit"),
        ("binary.py", bytes(range(256)), "binary.py"),
        ("latin.py", "# é\n".encode("latin-1"), "latin.py"),
        ("empty.py", b"", "no public function"),
        ("helpers.py", b"def helper(x):\n    return x\n", "no public function"),
        ("notes.txt", b"x = 1\n", r"\.py"),
    ],
    ids=lambda one: one if isinstance(one, str) and one.endswith((".py", ".txt")) else "",
)
def test_file_that_cannot_be_used(tmp_path, name, content, says):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(ModelFileError, match=says) as refused:
        models_in_file(str(path))
    assert name in str(refused.value)


def test_missing_file_and_folder(tmp_path):
    for path in (tmp_path / "gone.py", tmp_path):
        with pytest.raises(ModelFileError, match="no such model file"):
            models_in_file(str(path))


# --- at hand ------------------------------------------------------------------------------------


INSTALLED = sorted(point.name for point in entry_points(group=ENTRY_POINT_GROUP))


def test_installed_models_come_by_entry_point():
    assert [model.name for model in available_models()] == INSTALLED
    assert {"stepped_pipe", "bent_pipe", "fuel_level"} <= set(INSTALLED)


@pytest.mark.parametrize("name", INSTALLED)
def test_installed_model_has_a_sensible_signature(name):
    model = installed_model(name)
    assert model.description
    assert all(item.default is not None for item in model.arguments)
    assert all(item.range.holds(item.default) for item in model.arguments)
    assert all(item.meaning for item in (*model.arguments, *model.results))


def test_model_of_ones_own_goes_before_its_namesake(tmp_path):
    path = tmp_path / "mine.py"
    path.write_text(MODELS.replace("def pin_fit", "def fuel_level"))
    (model,) = find_models(("fuel_level",), (str(path),))
    assert model.origin == f"file:{path}"
    assert find_models(("fuel_level",), ())[0].origin == "models.fuel_level:fuel_level"


def test_later_file_goes_before_the_earlier(tmp_path, model_file):
    path = tmp_path / "mine.py"
    path.write_text(MODELS)
    at_hand = {model.name: model for model in available_models((str(model_file), str(path)))}
    assert at_hand["bolt"].origin == f"file:{path}"


def test_unknown_model_names_the_nearest():
    with pytest.raises(WiringError, match=r'"fuel_levl".*"fuel_level".*--model-file'):
        find_models(("fuel_levl",), ())


def test_model_pickles_by_its_origin(model_file):
    for model in available_models((str(model_file),)):
        again = pickle.loads(pickle.dumps(model))
        assert (again.name, again.origin, again.arguments) == (
            model.name,
            model.origin,
            model.arguments,
        )
