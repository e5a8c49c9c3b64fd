"""The commands, one file each.

Everything heavy is imported inside the command that needs it, so that help answers at once.
"""
