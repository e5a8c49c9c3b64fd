"""The answer of ``built``: how it stands with what was measured so far."""

from sensitivity.answers.built.answer import built

__all__ = ["built"]
