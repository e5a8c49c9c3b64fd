"""``check``: no sampling."""

from __future__ import annotations

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile, StudyPath, read_with


@guarded
def check(study: StudyPath, model_file: ModelFile = None) -> None:
    """No sampling: nominal results, worst case and root-sum-square against the limits."""
    from sensitivity.answers.check.screen import show_check
    from sensitivity.engine.worst_case import stack_up

    read = read_with(study, model_file)
    read.check_drawn()
    show_check(read, stack_up(read))
