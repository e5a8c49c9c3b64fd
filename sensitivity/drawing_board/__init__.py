"""The drawing board: a page on loopback where the labelled drawing is the form.

``session`` is what is on the board (the study's text, its edits, undo and redo), ``journal`` keeps
it through a crash, ``face`` is what the page shows at once, ``jobs`` and ``thinking`` compute in a
process of their own what takes longer, ``guard`` keeps strangers out, ``server`` answers.
"""
