"""The answer of ``compare``."""
