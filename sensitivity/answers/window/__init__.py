"""The answer of ``window``: where to set one input or two, and how much room there is."""

from sensitivity.answers.window.answer import window

__all__ = ["window"]
