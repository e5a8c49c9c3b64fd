"""The answer of ``run``: the main job."""

from sensitivity.answers.run.answer import run

__all__ = ["run"]
