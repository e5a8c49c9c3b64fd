"""The answer of ``compare``: several designs under the same limits."""

from sensitivity.answers.compare.answer import compare

__all__ = ["compare"]
