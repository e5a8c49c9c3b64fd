"""A command as it would be typed: its studies, its words, and the options that say something."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence

from sensitivity.engine.plan import Plan
from sensitivity.study.study import Study


def command_in_words(
    command: str,
    studies: Sequence[Study],
    words: Sequence[str] = (),
    options: Mapping[str, object] | None = None,
) -> str:
    """Write a call as it would be typed: studies, further words, the options that say something.

    A list is an option given several times; models in files of their own are named by themselves.
    """
    typed = ["spiritlevel", command, *(f"{study.name}.toml" for study in studies), *words]
    for option, value in {**(options or {}), "--model-file": _model_files(studies)}.items():
        if value is True:
            typed.append(option)
        elif isinstance(value, list | tuple):
            typed += [word for each in value for word in (option, str(each))]
        elif value is not None and value is not False:
            typed += [option, f"{value:g}" if isinstance(value, float) else str(value)]
    return shlex.join(typed)


def model_file_options(study: Study) -> str:
    """Write the options that name the files of the study's own models, a space before each."""
    return "".join(f" --model-file {shlex.quote(name)}" for name in _model_files([study]))


def _model_files(studies: Sequence[Study]) -> list[str]:
    origins = dict.fromkeys(model.origin for study in studies for model in study.system.models)
    return [origin.rpartition("/")[2] for origin in origins if origin.startswith("file:")]


def sampling_options(plan: Plan) -> dict[str, object]:
    """The options that make a call sample as this plan did."""
    sampling = plan.sampling
    return {
        "--seed": plan.seed,
        "--replicates": sampling.replicates,
        "--points": sampling.points,
    }
