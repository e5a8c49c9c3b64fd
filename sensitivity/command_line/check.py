"""``check``: no sampling."""

from __future__ import annotations

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.deliver import check_out, deliver
from sensitivity.command_line.options import (
    AsJson,
    ModelFile,
    OutFolder,
    Quiet,
    StudyPath,
    read_with,
)


@guarded
def check(
    study: StudyPath,
    out: OutFolder = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """No sampling: nominal results, worst case and root-sum-square against the limits."""
    from sensitivity.answers.check import check as answer

    read = read_with(study, model_file)
    check_out(out)
    deliver(answer(read), out=out, json=json, quiet=quiet)
