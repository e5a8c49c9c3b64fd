"""Serving the board on this machine alone, until it is stopped."""

from __future__ import annotations

import gc
import signal
import socket
import sys
import threading
import webbrowser
from types import FrameType

import uvicorn

from sensitivity.drawing_board.board import Board
from sensitivity.drawing_board.guard import Keys
from sensitivity.drawing_board.server import application
from sensitivity.drawing_board.session import Session
from sensitivity.errors import MachineError

LOOPBACK = "127.0.0.1"


class _Server(uvicorn.Server):
    """Stops when it is asked to, and takes that for no fault: it is how a page is put away."""

    board: Board | None = None

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop; a second time at once."""
        self.force_exit = self.should_exit
        self.should_exit = True
        if self.board is not None:
            self.board.stopping.set()


def bound(port: int) -> socket.socket:
    """Bind a socket of this machine alone; port 0 is any that is free.

    Raises
    ------
    MachineError
        Where the port is taken.
    """
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would share a port with another program
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((LOOPBACK, port))
        found.listen()  # whoever follows the address before the server is up waits, not refused
    except OSError as error:
        found.close()
        raise MachineError(
            f"port {port} cannot be used: {(error.strerror or '').lower()}; without --port a free "
            "one is taken"
        ) from None
    return found


def serve(session: Session, listening: socket.socket, keys: Keys, *, browse: bool) -> None:
    """Serve the board until Ctrl-C or a signal to end.

    Parameters
    ----------
    session : Session
        What is on the board.
    listening : socket
        Bound already, so that its address can be told first.
    keys : Keys
        Of that port.
    browse : bool
        Open the address in the user's browser.
    """
    board = Board(session)
    config = uvicorn.Config(
        application(board, keys),
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=False,
        timeout_graceful_shutdown=2,
        ws="none",
    )
    server = _Server(config)
    server.board = board
    if browse:
        threading.Thread(target=webbrowser.open, args=(keys.address,), daemon=True).start()
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    gc.freeze()  # what is loaded stays: no edit waits for it to be looked through
    try:
        server.run(sockets=[listening])
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        board.close()
        listening.close()
