"""Reading a study file: every fault at once, each with its line, what was found and what is right.

A study is data: opening someone else's runs no code. Models of one's own are named on the
command line.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from pathlib import Path

from sensitivity.errors import Fault, MachineError, StudyError, shortened
from sensitivity.quantities.text_files import UnreadableError, Why, as_text, read_regular
from sensitivity.study.assembly import study_from_tables
from sensitivity.study.caps import LARGEST_STUDY
from sensitivity.study.faults import Faults
from sensitivity.study.study import Study
from sensitivity.study.toml_lines import outline


def read_study(path: str | Path, model_files: Iterable[str] = ()) -> Study:
    """Read, check and join a study to its models.

    Parameters
    ----------
    path : str or Path
        The study, a TOML file. Files of measured values lie in its folder.
    model_files : iterable of str, optional
        Files with models of one's own.

    Raises
    ------
    StudyError
        With all the faults of the study.
    ModelFileError
        Where a model file cannot be loaded.
    MachineError
        Where the file may not be read.
    """
    path = Path(path)
    return study_of_text(_text(path), path, model_files)


def study_of_text(text: str, path: Path, model_files: Iterable[str] = ()) -> Study:
    """As ``read_study``, of a text that is not, or not yet, what stands at ``path``.

    ``path`` names the study, and its folder holds its files of measured values.
    """
    found = outline(text)
    if found.too_much is not None:
        problem, line = found.too_much
        raise StudyError(str(path), [Fault("", problem, line)])
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # Not only what tomllib calls a fault: numbers and nests past what Python reads, too.
        raise StudyError(str(path), [_not_toml(path, text, shortened(str(error)))]) from None
    return study_from_tables(
        content,
        where=str(path),
        name=path.stem,
        folder=path.parent,
        faults=Faults(found.lines),
        text=text,
        model_files=tuple(model_files),
    )


def _not_toml(path: Path, text: str, problem: str) -> Fault:
    """Say where TOML cannot be read on, and the usual cause.

    The line itself is quoted only of what is called a study: any other file was named by mistake,
    and what stands in it is nobody's business.
    """
    lines = text.split("\n")
    found = re.search(r"at line (\d+)", problem)
    number = int(found[1]) if found else 0
    if not 1 <= number <= len(lines):
        return Fault("", f"not TOML: {problem}")
    line = lines[number - 1].strip() if path.suffix == ".toml" else ""
    hint = 'a value with a unit stands in straight quotes, like nominal = "0.48 in"'
    return Fault(
        shortened(line), f"not TOML: {problem}; {hint}. The rest is checked once this reads", number
    )


_REFUSALS: dict[Why, str] = {
    "missing": "no such file",
    "folder": "is a folder; name the study file in it",
    "endless": "is not a file that can be read to its end",
    "large": f"is larger than {LARGEST_STUDY >> 10} KiB; a study is a page or two of TOML",
    "no text": "is not text; a study is TOML in UTF-8",
}


def _text(path: Path) -> str:
    def refuse(problem: str) -> StudyError:
        return StudyError(str(path), [Fault("", problem)])

    try:
        text = as_text(read_regular(path, LARGEST_STUDY))
    except UnreadableError as error:
        raise refuse(_REFUSALS.get(error.why, str(error))) from None
    except OSError as error:
        raise MachineError(f"{path} cannot be read: {(error.strerror or '').lower()}") from None
    if not text.strip():
        raise refuse('is empty; "spiritlevel new MODEL" prints a starter study')
    return text
