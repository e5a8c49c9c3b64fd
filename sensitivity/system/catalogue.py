"""Models: plain functions, found by entry point or in a file named on the command line.

A model is read by its signature alone. Each argument and each field of the result carries its
unit, its meaning and, if wanted, its physical range as plain strings in ``Annotated``; so a
model imports nothing from here, and nothing here imports a model by name.
"""

from __future__ import annotations

import dataclasses
import inspect
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import EntryPoint
from math import isfinite
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from sensitivity.errors import ModelFileError, QuantityError, WiringError, nearest
from sensitivity.quantities.units import pint_expression
from sensitivity.system.blame import ORIGIN_OF_A_FILE, defined_twice, model_at, raised
from sensitivity.system.installed import brought_by, points_of
from sensitivity.system.loading import import_file, load
from sensitivity.system.remarks import (
    ANYWHERE,
    Kind,
    PhysicalRange,
    ReadAs,
    RemarkError,
    read_remarks,
)

ENTRY_POINT_GROUP = "spiritlevel.models"
IN_PYTHON = "python:"
"""Before the origin of a function that was handed over in Python."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """An argument or a result of a model: its name, unit, meaning, range and default.

    A ``per_step`` argument has a value for each step of a study's schedule. ``kind``, ``spread``,
    ``read_as`` and ``yes_or_no`` are what the model declares of it (``remarks``).
    """

    name: str
    unit: str
    meaning: str
    range: PhysicalRange = ANYWHERE
    default: float | None = None
    per_step: bool = False
    kind: Kind | None = None
    spread: tuple[tuple[str, object], ...] = ()
    read_as: ReadAs | None = None
    yes_or_no: bool = False


@dataclass(frozen=True)
class Model:
    """A model as read from its signature.

    It pickles as its origin and is read anew on the other side, so that a model from a file
    can be sent to another process; a function handed over in Python pickles as Python does.
    """

    name: str
    origin: str
    function: Callable[..., Any]
    arguments: tuple[Quantity, ...]
    results: tuple[Quantity, ...]
    description: str

    @property
    def place(self) -> str:
        """Where it stands, for a message: its file, or its module and name."""
        return self.origin.removeprefix(ORIGIN_OF_A_FILE)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle by reference."""
        if self.origin.startswith(IN_PYTHON):
            return (read_model, (self.name, self.function, self.origin))
        return (_model_again, (self.name, self.origin))


def _model_again(name: str, origin: str) -> Model:
    if origin.startswith(ORIGIN_OF_A_FILE):
        return models_in_file(origin.removeprefix(ORIGIN_OF_A_FILE))[name]
    return installed_model(name)


def _annotated(name: str, hint: Any, where: str, default: float | None = None) -> Quantity:
    words = [word for word in get_args(hint)[1:] if isinstance(word, str)]
    if get_origin(hint) is not Annotated or len(words) < 2:
        raise ModelFileError(
            f'{where}: annotate "{name}" as Annotated[Array, "mm", "what it means"]; '
            'the unit of a pure number is ""'
        )
    unit, meaning, *more = words
    try:
        pint_expression(unit)
    except QuantityError as error:
        raise ModelFileError(f'{where}: unit of "{name}": {error}') from None
    try:
        said = read_remarks(more, unit)
    except RemarkError as error:
        raise ModelFileError(f'{where}, "{name}": {error}') from None
    return Quantity(
        name=name,
        unit=unit,
        meaning=meaning,
        range=said.range,
        default=default,
        per_step=said.per_step,
        kind=said.kind,
        spread=said.spread,
        read_as=said.read_as,
        yes_or_no=said.yes_or_no,
    )


def _hints(annotated: Any, where: str) -> dict[str, Any]:
    """Read annotations, which are code of the file's: what they raise is told."""
    try:
        return get_type_hints(annotated, include_extras=True)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise ModelFileError(f"{where} cannot be read: {raised(error, '')}") from None


def read_model(name: str, function: Callable[..., Any], origin: str) -> Model:
    """Read a function's signature as a model, or raise ModelFileError with what is missing."""
    where = model_at(name, origin, function)
    hints = _hints(function, f"{where}: its annotations")
    arguments = []
    for parameter in inspect.signature(function).parameters.values():
        where = model_at(name, origin, function, parameter.name)
        if parameter.kind not in (parameter.POSITIONAL_OR_KEYWORD, parameter.KEYWORD_ONLY):
            raise ModelFileError(f'{where}: "{parameter.name}" must be a plain named argument')
        stated = parameter.default is not parameter.empty
        if stated and not isinstance(parameter.default, int | float):
            raise ModelFileError(
                f'{where}: the default of "{parameter.name}" must be a number, its unit stands in '
                "the annotation"
            )
        number = float(parameter.default) if stated else None
        argument = _annotated(parameter.name, hints.get(parameter.name), where, number)
        if number is not None and not (isfinite(number) and argument.range.holds(number)):
            wanted = argument.range.stated or "a finite number"
            raise ModelFileError(
                f'{where}: the default of "{parameter.name}" is {number:g}; it should be {wanted}'
            )
        arguments.append(argument)
    result, where = hints.get("return"), model_at(name, origin, function)
    fields = _hints(result, f"{where}: the fields of its result") if inspect.isclass(result) else {}
    if not fields or not (hasattr(result, "_fields") or dataclasses.is_dataclass(result)):
        raise ModelFileError(
            f"{where}: it must return a NamedTuple or a dataclass whose fields are annotated; "
            "say which behind its arguments: -> Answer:"
        )
    kind = str(getattr(result, "__name__", ""))
    results = tuple(
        _annotated(key, hint, model_at(name, origin, function, kind, key))
        for key, hint in fields.items()
    )
    return Model(name, origin, function, tuple(arguments), results, inspect.getdoc(function) or "")


@lru_cache(maxsize=1)
def installed_points() -> Mapping[str, EntryPoint]:
    """Entry points of the installed models, by the model's name; none is loaded."""
    return {point.name: point for point in points_of(ENTRY_POINT_GROUP)}


def distribution_of(model: Model) -> str:
    """Name the distribution that brings an installed model; empty for a model of the user's own."""
    point = installed_points().get(model.name)
    return "" if point is None or point.value != model.origin else brought_by(point)


@lru_cache(maxsize=256)
def installed_model(name: str) -> Model:
    """Load and read one installed model; the others are left alone."""
    point = installed_points()[name]
    return read_model(name, load(point), point.value)


@lru_cache(maxsize=32)
def models_in_file(path: str) -> Mapping[str, Model]:
    """Find every public function with annotated arguments in a Python file, by name."""
    module = import_file(Path(path))
    found = {}
    for name, function in vars(module).items():
        own = inspect.isfunction(function) and function.__module__ == module.__name__
        if own and not name.startswith("_") and _looks_like_a_model(function):
            found[name] = read_model(name, function, f"{ORIGIN_OF_A_FILE}{path}")
    if twice := defined_twice(path, set(found)):
        raise ModelFileError(f"{path}: {twice}")
    if not found:
        raise ModelFileError(
            f"{path}: no public function with annotated arguments in it; "
            'annotate each as Annotated[Array, "mm", "what it means"]'
        )
    return found


def _looks_like_a_model(function: Callable[..., Any]) -> bool:
    try:
        hints = _hints(function, "")
    except ModelFileError:
        return True  # read_model then says what is wrong with it
    return any(get_origin(hint) is Annotated for hint in hints.values())


def function_model(function: Callable[..., Any]) -> Model:
    """Read a function handed over in Python as a model; an installed one as it is installed.

    Parameters
    ----------
    function : callable
        Annotated like any model.

    Raises
    ------
    ModelFileError
        With what its signature lacks.
    """
    name = str(getattr(function, "__name__", type(function).__name__))
    module = getattr(function, "__module__", "")
    where = f"{module}:{getattr(function, '__qualname__', name)}"
    point = installed_points().get(name)
    if point is not None and point.value == where:
        return installed_model(name)
    return read_model(name, function, f"{IN_PYTHON}{where}")


def companion(model: Model, kind: str) -> Callable[..., Any] | None:
    """Find what a model brings beside it: a ``figure``, ``drawing`` or ``bound``; None if nothing.

    An installed model's figure stands under its name in the entry-point group
    ``spiritlevel.figures``; a model in a file, or handed over in Python, brings one as
    ``NAME_figure`` beside itself.
    Drawings and bounds (``NAME_bound``) likewise.
    """
    if not model.origin.startswith((ORIGIN_OF_A_FILE, IN_PYTHON)):
        points = points_of(f"spiritlevel.{kind}s")
        return next((load(point) for point in points if point.name == model.name), None)
    module = sys.modules.get(model.function.__module__)
    found = getattr(module, f"{model.name}_{kind}", None)
    return found if callable(found) else None


def find_models(names: tuple[str, ...], model_files: tuple[str, ...]) -> tuple[Model, ...]:
    """Find the named models; one from a file given on the command line goes before its namesake."""
    own = _models_in_files(model_files)
    known = {*own, *installed_points()}
    missing = [name for name in names if name not in known]
    if missing:
        raise WiringError(
            "; ".join(f'no model "{name}"; {nearest(name, known)}' for name in missing)
            + " (a model of your own is named with --model-file)"
        )
    return tuple(own[name] if name in own else installed_model(name) for name in names)


def available_models(model_files: tuple[str, ...] = ()) -> tuple[Model, ...]:
    """All models at hand, by name: the installed ones and those in the given files."""
    own = _models_in_files(model_files)
    installed = (installed_model(name) for name in installed_points() if name not in own)
    return tuple(sorted((*own.values(), *installed), key=lambda model: model.name))


def _models_in_files(paths: tuple[str, ...]) -> dict[str, Model]:
    found: dict[str, Model] = {}
    for path in paths:
        found.update(models_in_file(str(Path(path).resolve())))
    return found
