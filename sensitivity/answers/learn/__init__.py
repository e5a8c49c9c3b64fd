"""The answer of ``learn``: what trials say of a part, of its dimensions and of the physics."""

from sensitivity.answers.learn.answer import learn

__all__ = ["learn"]
