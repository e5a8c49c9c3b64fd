"""Physics of a spirit burner: plain functions of arrays, one subject a file.

Nothing here knows of chance or of the engine; a model is any function whose arguments
and results carry their unit and meaning as ``Annotated`` strings (see ``arrays``).
"""
