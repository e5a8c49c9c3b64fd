"""The answer of ``window``."""
