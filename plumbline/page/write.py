"""Pages and pictures as files: whole or not at all, and over nothing unless asked."""

from __future__ import annotations

import os

from ..errors import PlumblineError

__all__ = ["write_file"]


def write_file(path: str | os.PathLike[str], text: str, *, force: bool = False) -> None:
    """Write a file.

    Parameters:
        path: of the file.
        text: what it is to hold.
        force: write over a file that is there.

    Raises:
        PlumblineError: where the file is there already and `force` is not given, or where it cannot be written; then
            nothing is changed.
    """
    path = os.fspath(path)
    folder, name = os.path.split(os.path.abspath(path))
    draft = os.path.join(folder, f".{name}.{os.getpid()}.part")
    try:
        with open(draft, "xb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        if force:
            os.replace(draft, path)
        else:
            os.link(draft, path)
    except FileExistsError:
        raise PlumblineError(f"'{path}' is there already. Give another name, or --force to write over it.") from None
    except OSError as error:
        raise PlumblineError(f"'{path}' cannot be written: {error.strerror or error}.") from None
    finally:
        if os.path.lexists(draft):
            os.unlink(draft)
