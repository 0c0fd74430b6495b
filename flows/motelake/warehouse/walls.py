"""What the operating system keeps a process from, whatever the program inside it is talked into.

On Linux the process may write below one folder only, may open no connection, and ends itself when its time is
over; elsewhere it is the parent process that ends it. Source: Linux, Documentation/userspace-api/landlock.rst
and include/uapi/linux/landlock.h (from memory: numbers of calls and bits).
"""

import ctypes
import os
import signal
import struct
import sys
from pathlib import Path

_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF = 444, 445, 446
_ASK_VERSION, _PATH_BENEATH, _NO_NEW_PRIVILEGES = 1, 1, 38
_WRITE_FILE, _TRUNCATE = 1 << 1, 1 << 14
_REMOVE_AND_MAKE = sum(1 << bit for bit in range(4, 13))
_BIND_AND_CONNECT = 0b11


def end_after(seconds: float) -> None:
    """Ends this process when the time is over, in the middle of whatever it does."""
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_REAL, seconds)


def limit_memory(byte_count: int) -> None:
    """Refuses this process more memory than this, for what the engine does not count itself."""
    if sys.platform == "linux":
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (byte_count, byte_count))


def forbid_writing(but_in: Path, *, is_network_needed: bool) -> bool:
    """Lets this process write below one folder only; False where the system knows no such wall."""
    if sys.platform != "linux":
        return False
    system = ctypes.CDLL(None, use_errno=True)
    version = system.syscall(_CREATE_RULESET, None, 0, _ASK_VERSION)
    if version < 1:
        return False
    writing = _WRITE_FILE | _REMOVE_AND_MAKE | (_TRUNCATE if version >= 3 else 0)
    connecting = _BIND_AND_CONNECT if version >= 4 and not is_network_needed else 0
    wanted = struct.pack("=QQ", writing, connecting)[: 16 if version >= 4 else 8]
    rules = system.syscall(_CREATE_RULESET, wanted, len(wanted), 0)
    folder = os.open(but_in, os.O_PATH)
    beneath = struct.pack("=Qi", writing, folder)
    is_closed_off = bool(
        rules >= 0
        and system.syscall(_ADD_RULE, rules, _PATH_BENEATH, beneath, 0) == 0
        and system.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0) == 0
        and system.syscall(_RESTRICT_SELF, rules, 0) == 0
    )
    os.close(folder)
    return is_closed_off
