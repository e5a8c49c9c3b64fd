"""The answer of ``check``."""
