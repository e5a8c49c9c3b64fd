"""Start worker processes by spawn in every Python that has this folder on PYTHONPATH."""

import multiprocessing

multiprocessing.set_start_method("spawn", force=True)
