"""spiritlevel in Python: stated spreads in; yields, indices and advice out.

>>> import sensitivity as sl
>>> study = sl.read_study("pipe.toml")
>>> run = sl.run(study, options=sl.RunOptions(seed=1))
>>> run.overall, run.sensitivity("flood_margin"), run.samples

A study is read from its file, or built of functions and statements (``Study``, ``normal`` and its
sisters, ``limit``). Every question is a function of the study (``run``, ``check``, ``window``,
``measure``, ``tighten``, ``redraw``, ``built``, ``learn``, ``compare``) and every answer has
``verdict``, ``tables()``, ``figures()``, ``to_dict()`` and ``save(folder)``, and shows itself in a
notebook.

What is named here is public and is loaded when it is first asked for.
"""

from __future__ import annotations

# Not from typing, which takes its time: nothing stands between the call and its interrupts.
TYPE_CHECKING = False

__version__ = "0.1.0"

if TYPE_CHECKING:
    from typing import Any

    from sensitivity.answers.built import built
    from sensitivity.answers.check import check
    from sensitivity.answers.compare import compare
    from sensitivity.answers.learn import learn
    from sensitivity.answers.measure import measure
    from sensitivity.answers.redraw import redraw
    from sensitivity.answers.run import run
    from sensitivity.answers.tighten import tighten
    from sensitivity.answers.window import window
    from sensitivity.engine.options import RunOptions
    from sensitivity.errors import SpiritlevelError
    from sensitivity.study.file import read_study
    from sensitivity.study.made import make_study as Study  # noqa: N812 - it makes a Study
    from sensitivity.study.statements import (
        arcsine,
        between,
        correlation,
        held,
        iso286,
        iso2768,
        limit,
        lognormal,
        measured,
        normal,
        process,
        reading,
        rectangular,
        samples,
        trapezoidal,
        triangular,
    )

_STATEMENTS = "sensitivity.study.statements"
_WHERE = {
    "RunOptions": ("sensitivity.engine.options", "RunOptions"),
    "SpiritlevelError": ("sensitivity.errors", "SpiritlevelError"),
    "Study": ("sensitivity.study.made", "make_study"),
    "arcsine": (_STATEMENTS, "arcsine"),
    "between": (_STATEMENTS, "between"),
    "built": ("sensitivity.answers.built", "built"),
    "check": ("sensitivity.answers.check", "check"),
    "compare": ("sensitivity.answers.compare", "compare"),
    "correlation": (_STATEMENTS, "correlation"),
    "held": (_STATEMENTS, "held"),
    "iso286": (_STATEMENTS, "iso286"),
    "iso2768": (_STATEMENTS, "iso2768"),
    "learn": ("sensitivity.answers.learn", "learn"),
    "limit": (_STATEMENTS, "limit"),
    "lognormal": (_STATEMENTS, "lognormal"),
    "measure": ("sensitivity.answers.measure", "measure"),
    "measured": (_STATEMENTS, "measured"),
    "normal": (_STATEMENTS, "normal"),
    "process": (_STATEMENTS, "process"),
    "reading": (_STATEMENTS, "reading"),
    "read_study": ("sensitivity.study.file", "read_study"),
    "rectangular": (_STATEMENTS, "rectangular"),
    "redraw": ("sensitivity.answers.redraw", "redraw"),
    "run": ("sensitivity.answers.run", "run"),
    "samples": (_STATEMENTS, "samples"),
    "tighten": ("sensitivity.answers.tighten", "tighten"),
    "trapezoidal": (_STATEMENTS, "trapezoidal"),
    "triangular": (_STATEMENTS, "triangular"),
    "window": ("sensitivity.answers.window", "window"),
}
"""Where each public name stands."""

__all__ = [
    "RunOptions",
    "SpiritlevelError",
    "Study",
    "arcsine",
    "between",
    "built",
    "check",
    "compare",
    "correlation",
    "held",
    "iso286",
    "iso2768",
    "learn",
    "limit",
    "lognormal",
    "measure",
    "measured",
    "normal",
    "process",
    "read_study",
    "reading",
    "rectangular",
    "redraw",
    "run",
    "samples",
    "tighten",
    "trapezoidal",
    "triangular",
    "window",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    module, attribute = _WHERE[name]
    found = getattr(import_module(module), attribute)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """Name what is public."""
    return [*__all__, "__version__"]
