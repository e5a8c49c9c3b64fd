"""The normal distribution and its kin: SciPy's own compiled functions, without what wraps them.

``scipy.special`` dresses its functions for other array libraries as it is imported: it goes through
all that numpy has, its translator of Fortran included, and reads a hundred docstrings. That takes a
fifth of a second, for which every command would wait before it counts its first part. The
functions are the same objects either way; where they cannot be had alone, all of it is imported.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Any

_WHOLE = "scipy.special"


class _StandIn(ModuleType):
    """Stands for the whole while its compiled part is loaded; whoever asks it gets the whole."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        _leave(self)
        return getattr(import_module(_WHOLE), name)


def _leave(stand_in: ModuleType) -> None:
    if sys.modules.get(_WHOLE) is stand_in:
        del sys.modules[_WHOLE]


def _compiled() -> ModuleType:
    """Load the compiled functions alone.

    Raises
    ------
    ImportError
        Where this version of SciPy has them elsewhere.
    """
    found = find_spec(_WHOLE)
    if found is None or found.submodule_search_locations is None:
        raise ImportError(f"{_WHOLE} is no package")
    stand_in = _StandIn(_WHOLE)
    stand_in.__path__ = list(found.submodule_search_locations)
    sys.modules[_WHOLE] = stand_in
    try:
        return import_module(f"{_WHOLE}._ufuncs")
    finally:
        _leave(stand_in)


def _functions() -> ModuleType:
    if _WHOLE not in sys.modules:
        try:
            return _compiled()
        except (ImportError, AttributeError):
            return import_module(_WHOLE)
    return sys.modules[_WHOLE]


_found: Any = _functions()
bdtr: Any = _found.bdtr
betaincinv: Any = _found.betaincinv
ndtr: Any = _found.ndtr
ndtri: Any = _found.ndtri
stdtrit: Any = _found.stdtrit
