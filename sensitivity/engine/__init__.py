"""The engine: from a study to its result, a replicate at a time."""
