"""How a worker process on this machine begins, whoever it works for."""

import multiprocessing
import os
import signal
import threading


def begin() -> None:
    """Leave Ctrl-C to the main process, which ends the workers when their work is done; never outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow_parent, daemon=True).start()


def _follow_parent() -> None:
    """End this worker when the main process is gone, which nobody else would tell it if that was killed."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
