"""The engine of spiritlevel: stated spreads in; yields, indices and advice out.

Data goes one way, and each step is a module that takes the step before it:

    study file -> Study -> System + joint spread -> replicates -> Result -> answers
    -> tables, figures, write-up

The engine knows nothing of burners. Models are plain functions found by entry point or named
on the command line, and are read by their signature (``catalogue``).
"""

__version__ = "0.1.0"
