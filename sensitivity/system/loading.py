"""Running what others wrote: what an entry point names, and a file named on the command line."""

from __future__ import annotations

import hashlib
import importlib.util
import re
import sys
from contextlib import redirect_stdout
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType
from typing import Any

from sensitivity.errors import ModelFileError
from sensitivity.system.blame import raised
from sensitivity.system.installed import brought_by

DISTRIBUTION = "spiritlevel"
HOME = Path(__file__).resolve().parents[2]
"""Where this package stands, and beside it the models that come with it."""


def load(point: EntryPoint) -> Any:
    """Load what an entry point names.

    Raises
    ------
    ModelFileError
        Where it cannot be loaded, or where what comes with spiritlevel is hidden by another package
        of the same name; that one is not run.
    """
    _refuse_another(point)
    try:
        with redirect_stdout(sys.stderr):
            return point.load()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise ModelFileError(
            f'what is installed as "{point.name}" ({point.value}) cannot be loaded: '
            f"{raised(error, _file_behind(point))}"
        ) from error


def _refuse_another(point: EntryPoint) -> None:
    """Refuse another's package of the name of ours: to find a top-level one runs nothing of it."""
    if brought_by(point) != DISTRIBUTION:
        return
    package = point.module.partition(".")[0]
    try:
        found = importlib.util.find_spec(package)
    except ValueError:  # a module made by hand has no specification
        found = None
    place = Path(found.origin).resolve().parent if found is not None and found.origin else None
    if place != HOME / package:
        raise ModelFileError(
            f'Python finds another package "{package}" ({place or "not in one folder"}) before '
            f"that of spiritlevel, and it is not run; take its folder out of PYTHONPATH, or give "
            "spiritlevel an environment of its own"
        )


def _file_behind(point: EntryPoint) -> str:
    module = sys.modules.get(point.module)
    return str(getattr(module, "__file__", "") or HOME.joinpath(*point.module.split(".")))


def import_file(path: Path) -> ModuleType:
    """Run a Python file as a module of a name of its own, wherever its namesakes stand.

    Raises
    ------
    ModelFileError
        Where there is no such file, or where it raises, with the line.
    """
    try:
        key = str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise ModelFileError(f"{str(path)!a}: its name is not UTF-8; rename it") from None
    if not path.is_file():
        raise ModelFileError(f"{path}: no such model file")
    stem = re.sub(r"[^A-Za-z0-9]", "_", path.stem)
    name = f"spiritlevel_model_file_{stem}_{hashlib.sha256(key).hexdigest()[:12]}"
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ModelFileError(f"{path}: not a Python file; its name should end in .py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    quiet, sys.dont_write_bytecode = sys.dont_write_bytecode, True  # nothing is left beside it
    try:
        with redirect_stdout(sys.stderr):
            spec.loader.exec_module(module)
    except KeyboardInterrupt:
        del sys.modules[name]
        raise
    except BaseException as error:  # a file may leave by SystemExit, or by what it invents
        del sys.modules[name]
        raise ModelFileError(f"{path}: {raised(error, str(path))}") from error
    finally:
        sys.dont_write_bytecode = quiet
    return module
