"""The answer of ``check``: the drawing by itself, without sampling."""

from sensitivity.answers.check.answer import check

__all__ = ["check"]
