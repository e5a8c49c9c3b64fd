"""The command line: the calls, their options, and the one place where errors end.

Everything heavy is imported inside the command that needs it, so that help answers at once.
"""
