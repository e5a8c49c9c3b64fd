"""Replicates on other machines: the executor of a Dask scheduler.

The extra ``cluster`` brings ``distributed``. What a replicate gives does not depend on where it is
computed, so a result is the same bit for bit; a worker that dies has its replicates computed by the
others. Workers want the same versions of this package and of any model file, at the same place.
"""

from __future__ import annotations

from concurrent.futures import Executor

from sensitivity.errors import CallError

SECONDS_TO_ANSWER = 10


def executor_at(address: str) -> Executor:
    """Reach the scheduler at an address, such as ``tcp://127.0.0.1:8786``.

    Parameters
    ----------
    address : str
        As the scheduler prints it when it starts.

    Returns
    -------
    concurrent.futures.Executor
        Its workers together. It is closed when the program ends.

    Raises
    ------
    CallError
        Where ``distributed`` is not installed, no scheduler answers there, or it has no workers.
    """
    try:
        from distributed import Client
    except ImportError:
        raise CallError(
            "--scheduler wants the extra cluster: pip install 'spiritlevel[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=SECONDS_TO_ANSWER)
    except (OSError, ValueError, TimeoutError) as problem:
        raise CallError(
            f"--scheduler: no scheduler answers at {address}; write it as the scheduler prints it, "
            "like tcp://127.0.0.1:8786"
        ) from problem
    if not client.scheduler_info()["workers"]:
        raise CallError(f"--scheduler: the scheduler at {address} has no workers; start one first")
    # The same task twice is two tasks: a result that was lost is computed, not looked up.
    executor: Executor = client.get_executor(pure=False)
    return executor
