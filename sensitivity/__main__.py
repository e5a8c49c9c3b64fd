"""Where the program begins: interrupts and streams first, all else after.

``spiritlevel`` and ``python -m sensitivity`` are the same.
"""

import gc
import os
import sys
import warnings


def main() -> None:
    """Entry point of the ``spiritlevel`` command."""
    try:
        from sensitivity.interrupts import end_with, leave, take_over

        take_over()
        _sound_streams()
        gc.set_threshold(50_000, 20, 50)  # arrays make no cycles, and looking for some takes time
        if not sys.warnoptions and "SPIRITLEVEL_TRACEBACK" not in os.environ:
            warnings.simplefilter("ignore")  # what libraries tell each other is not for the bench
        # Nobody's plug-ins have a say in how a study is read, nor are they looked for.
        os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
        from sensitivity.command_line.app import program
        from sensitivity.command_line.boundary import ended

        try:
            program(sys.argv[1:])(prog_name="spiritlevel")
        except SystemExit as error:
            leave()
            end_with(error.code if isinstance(error.code, int) else 1)
            raise
        except BaseException as error:
            if "SPIRITLEVEL_TRACEBACK" in os.environ:
                raise
            status = ended(error)
            leave()
            end_with(status)
            sys.exit(status)
        finally:
            leave()
    except KeyboardInterrupt:
        from sensitivity.interrupts import end_at_once

        end_at_once()
    except (OSError, ImportError) as error:
        # Too few file handles, a broken installation: what would say it better cannot be loaded.
        sys.stderr.write(f"spiritlevel: cannot start: {error}\n")
        sys.exit(1)


def _sound_streams() -> None:
    """Leave no stream closed, and say so where it is the one that answers go to."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            # Otherwise the next file that is opened would take its place.
            os.open(os.devnull, os.O_RDWR)
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  for all the run
    if sys.stdout is None:
        sys.stderr.write(
            "spiritlevel: standard output is closed, so there is nowhere to answer; send it to a "
            "file or to /dev/null\n"
        )
        sys.exit(1)


if __name__ == "__main__":
    main()
