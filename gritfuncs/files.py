"""The one way to write a file: whole or not at all, never over one that is there, save for one kept as a backup.

Standard library only.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import secrets
import signal
import threading
from collections.abc import Callable, Iterator
from types import FrameType

from .refused import Refused, Unusable

_ENDINGS = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]  # end a process without a word
_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
_PERMISSIONS = 0o777


def refuse_existing(path: str | os.PathLike) -> None:
    """Say before long work that a path is taken, be it by a link that leads nowhere."""
    if os.path.lexists(path):
        raise Refused("", "not exist yet", place=(os.fspath(path),))


def check_new(path: str | os.PathLike, ending: str) -> None:
    """Say before long work that a path cannot be the one of a new file of this kind."""
    if os.path.splitext(path)[1].lower() != ending:
        raise Refused("", f"end in {ending}", place=(os.fspath(path),))
    refuse_existing(path)


def write_new(path: str | os.PathLike, content: bytes, like: str | os.PathLike | None = None) -> None:
    """Write a file that is not there yet, with the permissions of the file `like`.

    The content goes into a temporary file in the same folder, which takes its name when it is complete.  Whatever happens
    before, be it a full disk, Ctrl-C or the end of the session, the temporary file is removed.  ValueError in one line
    that begins with the path, if there is something at the path, even if it came there meanwhile, or if it cannot be written.
    """
    path = os.fspath(path)
    refuse_existing(path)
    try:
        permissions = None if like is None else os.stat(like).st_mode & _PERMISSIONS
        with _temporary(path, permissions) as (temporary, descriptor):
            with open(descriptor, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            if permissions is not None:
                os.chmod(temporary, permissions)
            _give_name(temporary, path)
    except FileExistsError:
        raise Refused("", "not exist yet", place=(path,)) from None
    except OSError as error:
        raise Unusable(f"cannot be written ({error.strerror or error})", (path,)) from None


def replace_with_backup(path: str | os.PathLike, content: bytes, was: bytes, check: Callable[[str], None]) -> str:
    """Put a new content in the place of a file that still holds what it was, and give the path of a backup beside it.

    The content goes into a temporary file in the same folder; `check` is given its path and raises what is wrong with it.
    Only then the backup is written, under the first number that is free, and the file takes the new content.  Whatever
    goes wrong before, the file is as it was and nothing is left beside it.  ValueError in one line that begins with the path.
    """
    path = os.path.realpath(path)  # a link stays one
    try:
        permissions = os.stat(path).st_mode & _PERMISSIONS
        if not os.access(path, os.W_OK):
            raise Unusable("cannot be written (it is read-only)", (path,))
        with _temporary(path, permissions) as (temporary, descriptor):
            with open(descriptor, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(temporary, permissions)
            check(temporary)
            backup = _free_backup(path)
            write_new(backup, was, like=path)
            try:
                with open(path, "rb") as file:
                    if file.read() != was:
                        raise Unusable("changed while it was read: try again", (path,))
                os.replace(temporary, path)
            except BaseException:
                os.unlink(backup)
                raise
    except OSError as error:
        raise Unusable(f"cannot be written ({error.strerror or error})", (path,)) from None
    return backup


def _free_backup(path: str) -> str:
    stem, ending = os.path.splitext(path)
    names = (f"{stem}.backup-{number}{ending}" for number in itertools.count(1))
    return next(name for name in names if not os.path.lexists(name))


@contextlib.contextmanager
def _temporary(path: str, permissions: int | None) -> Iterator[tuple[str, int]]:
    """A file of its own beside the path, gone at the end."""
    name = os.path.join(os.path.dirname(path), f".gritfuncs-{secrets.token_hex(8)}.tmp")  # short, however long the other is
    with _endings_raised():
        try:
            # what was private never shows in a copy, not even for a moment; other files are as private as the user has them
            yield name, os.open(name, _NEW, 0o666 if permissions is None else 0o600)
        finally:
            with contextlib.suppress(OSError):
                os.unlink(name)


class _Ended(BaseException):
    """The process was told to end."""


@contextlib.contextmanager
def _endings_raised() -> Iterator[None]:
    """What ends a process comes as an exception, so that it can tidy up first; then it ends in the same way."""
    if threading.current_thread() is not threading.main_thread():  # no other one can ask for signals
        yield
        return

    def raised(number: int, _: FrameType | None) -> None:
        signal.signal(number, signal.SIG_IGN)  # once is enough
        raise _Ended(number)

    ours = [number for number in _ENDINGS if signal.getsignal(number) is signal.SIG_DFL]  # others are somebody else's
    for number in ours:
        signal.signal(number, raised)
    ended = None
    try:
        yield
    except _Ended as end:
        ended = end.args[0]
    finally:
        for number in ours:
            signal.signal(number, signal.SIG_DFL)
    if ended is not None:
        signal.raise_signal(ended)


def _give_name(temporary: str, path: str) -> None:
    """Put the temporary file at the path; FileExistsError if anything is there, a link that leads nowhere included."""
    if os.name == "nt":
        os.rename(temporary, path)  # there it never replaces
        return
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links: claim the name, then replace what is our own
        os.close(os.open(path, _NEW, 0o600))
        try:
            os.replace(temporary, path)
        except BaseException:
            os.unlink(path)
            raise
