"""Files of the user's: one way to write them, whole or not at all, and over nothing that is not to be lost."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import BinaryIO, Literal

from .errors import PlumblineError

__all__ = ["Kind", "NewFile", "new_file"]

Kind = Literal["layout", "picture", "page", "table"]

_DRAFT = ".plumbline-part"
_LOOKED_AT = 1_000_000
_SIGNS: dict[Kind, re.Pattern[bytes]] = {
    "picture": re.compile(rb"(?is)\A\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)?<svg\b"),
    "page": re.compile(rb"(?is)\A\s*<!doctype html\b"),
    "table": re.compile(rb"(?i)\A(?:\xef\xbb\xbf)?\"?list\"?,\"?item\b"),
    "layout": re.compile(rb"(?m)(?:^|[{,])[ \t]*[\"']?(?:vessels|lines)[\"']?[ \t]*:"),
}
"""How a file of each kind is known, so that none is written over one of another kind."""


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file that may be written, as `new_file` found; `path` as the user spelt it, `inputs` what was read. `over` is None where
    the command has no --force."""

    path: str
    kind: Kind
    inputs: tuple[str, ...] = ()
    over: bool | None = None

    def write(self, text: str) -> None:
        """Write the file, whole or not at all.

        Raises:
            PlumblineError: where it cannot be written, or may not be any more; then nothing is changed.
        """
        _refuse(self)
        # Through a symbolic link it is its target that is written.
        goal = os.path.realpath(self.path) if self.over else os.path.abspath(self.path)
        try:
            with _draft(os.path.dirname(goal), text) as draft:
                if self.over and os.path.exists(goal):
                    _take_after(draft, os.stat(goal))
                    os.replace(draft, goal)
                else:
                    _put(draft, goal)
        except FileExistsError:
            raise _there(self) from None
        except OSError as error:
            raise PlumblineError(f"'{self.path}' cannot be written: {error.strerror or error}.") from None


def new_file(
    path: str | os.PathLike[str],
    kind: Kind,
    *,
    inputs: tuple[str | os.PathLike[str] | None, ...] = (),
    over: bool | None = None,
) -> NewFile:
    """Tell whether a file may be written, before any work is done for it.

    Parameters:
        inputs: the files that are read; none of them is ever written over, under whatever name.
        over: whether it may be there, if it is of no other of our kinds; None where the command has no --force to offer.

    Raises:
        PlumblineError: where it may not be written, or there is no way to.
    """
    file = NewFile(os.fspath(path), kind, tuple(os.fspath(one) for one in inputs if one), over)
    _refuse(file)
    return file


def _refuse(file: NewFile) -> None:
    try:
        _refuse_path(file)
    except OSError as error:
        # The folder that the program stands in may have been taken away.
        raise PlumblineError(f"'{file.path}' cannot be written: {error.strerror or error}.") from None


def _refuse_path(file: NewFile) -> None:
    path = file.path
    if os.path.basename(path) in ("", ".", "..", "-") or "\0" in path:
        raise PlumblineError(f"'{path}' is no name for a file to write. Give one, for instance {_EXAMPLES[file.kind]}.")
    # Two names of one file, by links or capitals, are one file to the system; a name that is not there yet is told by its way.
    for one in file.inputs:
        same = os.path.realpath(one) == os.path.realpath(path)
        if same or (os.path.exists(path) and os.path.exists(one) and os.path.samefile(path, one)):
            raise PlumblineError(
                f"'{path}' is the file that is read, '{one}', which is never written over. Give another name."
            )
    if os.path.isdir(path):
        raise PlumblineError(f"'{path}' is a folder. Give the name of a file in it.")
    if os.path.lexists(path):
        if not file.over:
            raise _there(file)
        _refuse_over(file)
    folder = os.path.dirname(os.path.realpath(path) if file.over else os.path.abspath(path))
    if not os.path.isdir(folder):
        raise PlumblineError(f"'{path}' cannot be written: there is no folder '{folder}'.")
    if not os.access(folder, os.W_OK):
        raise PlumblineError(f"'{path}' cannot be written: nothing may be written into the folder '{folder}'.")


def _refuse_over(file: NewFile) -> None:
    """Refuse to write over what is no file of the kind, or is protected."""
    path = file.path
    if os.path.islink(os.path.realpath(path)):
        raise PlumblineError(f"'{path}' is a link that leads round to itself. Give another name.")
    if not os.path.exists(path):
        return
    if not os.path.isfile(path):
        raise PlumblineError(f"'{path}' is no ordinary file, and is not written over. Give another name.")
    if not os.access(path, os.W_OK):
        raise PlumblineError(f"'{path}' is write-protected, and is not written over. Give another name.")
    try:
        with open(path, "rb") as there:
            held = there.read(_LOOKED_AT)
    except OSError as error:
        raise PlumblineError(
            f"'{path}' cannot be looked into before it is written over: {error.strerror or error}."
        ) from None
    kind = next((kind for kind, sign in _SIGNS.items() if sign.search(held)), None)
    if kind not in (None, file.kind):
        raise PlumblineError(
            f"'{path}' holds a {kind}, and no {file.kind} is written over that, --force or not. Give another name."
        )


def _there(file: NewFile) -> PlumblineError:
    if file.over is None:
        return PlumblineError(f"'{file.path}' is there already, and nothing is written over. Give another name.")
    return PlumblineError(f"'{file.path}' is there already. Give another name, or --force to write over it.")


_EXAMPLES: dict[Kind, str] = {
    "layout": "new.yaml",
    "picture": "sketch.svg",
    "page": "report.html",
    "table": "parts.csv",
}


@contextmanager
def _draft(folder: str, text: str) -> Iterator[str]:
    """A text in a file of its own in the folder, for as long as this lasts; drafts that a killed run left there are cleared."""
    _clear(folder)
    draft = os.path.join(folder, f".{os.urandom(8).hex()}{_DRAFT}")
    try:
        with open(draft, "xb") as file:
            _hold(file)
            file.write(text.encode("utf-8", "backslashreplace"))
            file.flush()
            os.fsync(file.fileno())
            if os.name == "nt":
                file.close()  # A file that is open can be given no other name there.
            yield draft
    finally:
        if os.path.lexists(draft):
            os.unlink(draft)


def _put(draft: str, goal: str) -> None:
    """Give the draft its name, never over another file."""
    try:
        os.link(draft, goal)
    except FileExistsError:
        raise
    except OSError:
        # A memory stick may know no second name for a file: take the name first, then put the file there.
        with open(goal, "xb"):
            pass
        try:
            os.replace(draft, goal)
        except BaseException:
            os.unlink(goal)
            raise


def _take_after(draft: str, there: os.stat_result) -> None:
    """Give the draft the owner and the mode of the file that it is put in place of, as far as the system lets."""
    with suppress(OSError, AttributeError):
        os.chown(draft, there.st_uid, there.st_gid)
    with suppress(OSError):
        os.chmod(draft, stat.S_IMODE(there.st_mode))


def _clear(folder: str) -> None:
    """Remove the drafts in a folder that no run holds any more."""
    try:
        left = [
            entry.path
            for entry in os.scandir(folder)
            if entry.name.endswith(_DRAFT)
            and re.fullmatch(r"\.[0-9a-f]{16}", entry.name.removesuffix(_DRAFT))
            and entry.is_file(follow_symlinks=False)
        ]
    except OSError:
        return
    for path in left:
        try:
            with open(path, "rb") as file:
                free = _hold(file)
            if free:
                os.unlink(path)
        except OSError:
            continue


def _hold(file: BinaryIO) -> bool:
    """Hold a draft while it is open, so that no other run clears it; False where another run holds it."""
    try:
        import fcntl
    except ImportError:
        # Where there are no such locks, a file that is open cannot be removed.
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        # A network folder may know no locks: what is there is left, rather than taken from another run.
        return False
    return True
