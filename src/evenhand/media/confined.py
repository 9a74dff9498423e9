"""What a process gives up before it takes in a stranger's bytes: files, network, programs.

On Linux a filter in the kernel (seccomp) lets through the system calls that are listed and refuses all
others; it cannot be taken off again, and rights beyond ours cannot be had (no_new_privs). libseccomp makes
it: it knows the calls' numbers on each machine. Elsewhere, or without that library, nothing is given up
here, and ``still_open`` says so: it tries.

Standard library only, and little of it: a decoder's start is waited for.
"""

from __future__ import annotations

import errno
import os
import socket
import sys
from collections.abc import Callable
from contextlib import suppress

LET, REFUSE = 0x7FFF_0000, 0x0005_0000 | errno.EPERM  # SCMP_ACT_ALLOW, SCMP_ACT_ERRNO (seccomp.h)
UNKNOWN = (
    0x0005_0000 | errno.ENOSYS
)  # of a newer call: what is older is then used, whose arguments can be held
_EQUAL, _MASKED = 4, 7  # SCMP_CMP_EQ, SCMP_CMP_MASKED_EQ
_EXECUTABLE, _THREAD = 4, 0x10000  # PROT_EXEC, CLONE_THREAD
_LIBRARY = "libseccomp.so.2"
_NO_CALL = -1  # __NR_SCMP_ERROR: a call that the library does not know, or the machine does not have

# What decoding needs: to read what was handed over, to answer, and memory. No name is opened, no socket made.
DECODING = (
    "read", "write", "lseek", "close", "recvmsg",
    "brk", "munmap", "mremap", "madvise", "futex", "sched_yield", "sched_getaffinity",
    "rt_sigaction", "rt_sigprocmask", "rt_sigreturn", "restart_syscall",
    "clock_gettime", "clock_nanosleep", "gettimeofday", "getrandom", "getrusage", "getpid", "gettid",
    "set_robust_list", "rseq", "exit", "exit_group",
)  # fmt: skip
# And these with one argument held: (call, which argument, how it is compared, two numbers for that).
HELD = (
    ("mmap", 2, _MASKED, _EXECUTABLE, 0),  # no new code
    ("mprotect", 2, _MASKED, _EXECUTABLE, 0),
    ("clone", 0, _MASKED, _THREAD, _THREAD),  # a thread, never a process
    ("prlimit64", 1, _EQUAL, 0, 0),  # the processor's time (RLIMIT_CPU)
)


def closes() -> Callable[[], bool]:
    """Make what refuses a process, from then on, all that decoding does not need; it tells whether it did."""
    if sys.platform != "linux":
        return lambda: False
    import ctypes  # 2 ms; a binding of libseccomp (pyseccomp) takes 20, and adds nothing that is needed

    class Compared(ctypes.Structure):
        """``struct scmp_arg_cmp``."""

        _fields_ = (
            ("arg", ctypes.c_uint),
            ("op", ctypes.c_int),
            ("a", ctypes.c_uint64),
            ("b", ctypes.c_uint64),
        )

    try:
        library = ctypes.CDLL(_LIBRARY)
    except OSError:
        return lambda: False
    library.seccomp_init.restype = ctypes.c_void_p
    made = ctypes.c_void_p(library.seccomp_init(ctypes.c_uint32(REFUSE)))

    def add(what: int, name: str, *held: int) -> bool:
        number = library.seccomp_syscall_resolve_name(name.encode())
        if number == _NO_CALL:
            return True
        compared = ctypes.byref(Compared(*held)) if held else None
        count = int(compared is not None)
        return not library.seccomp_rule_add_array(made, ctypes.c_uint32(what), number, count, compared)

    added = [
        add(UNKNOWN, "clone3"),
        *(add(LET, name) for name in DECODING),
        *(add(LET, *held) for held in HELD),
    ]
    return lambda: all(added) and not library.seccomp_load(made)


def still_open() -> list[str]:
    """Try, harmlessly, what a stranger's bytes must not do; list what this process could reach."""
    could = []
    with suppress(PermissionError):
        os.close(os.open("/", os.O_RDONLY))
        could.append("files")
    with suppress(PermissionError):
        socket.socket().close()
        could.append("network")
    try:
        os.execv("/dev/null/none", ["none"])  # noqa: S606 - there is no such program, and none can be made
    except PermissionError:
        pass
    except OSError:
        could.append("programs")
    return could
