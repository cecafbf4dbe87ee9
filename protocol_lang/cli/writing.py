"""Writing files: whole or not at all, never over another unasked, never through a link."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Mapping
from pathlib import Path

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut


def write_new(path: Path, text: str) -> None:
    """Write a file that must not exist yet.

    Raises :class:`CannotCarryOut` if anything of that name is there, or if it cannot be written;
    in both cases nothing is left behind.
    """
    temporary = _written_beside(path, text.encode("utf-8"), 0o666 & ~_umask())
    try:
        # A second name for the finished file; unlike a rename, it never takes the place of another.
        os.link(temporary, path)
    except FileExistsError:
        raise CannotCarryOut(
            f'"{_shown(path)}" is there already, and was left as it is. Choose another name.'
        ) from None
    except OSError:
        _write_exclusively(path, text)
    finally:
        temporary.unlink(missing_ok=True)


def write_folder(path: Path, files: Mapping[str, str]) -> None:
    """Write a folder that must not exist yet, with its files: all of them or nothing.

    Raises :class:`CannotCarryOut` if anything of that name is there, or if it cannot be written;
    in both cases nothing is left behind.
    """
    if os.path.lexists(path):
        raise CannotCarryOut(
            f'"{_shown(path)}" is there already, and was left as it is. Choose another name.'
        )
    made: Path | None = None
    try:
        made = Path(tempfile.mkdtemp(prefix=f".{path.stem[:40]}-", dir=path.parent))
        for name, text in files.items():
            with (made / name).open("xb") as stream:
                stream.write(text.encode("utf-8"))
                stream.flush()
                os.fsync(stream.fileno())
        made.chmod(0o777 & ~_umask())
        # A folder takes the place of an empty one at most, and that not on every system.
        made.rename(path)
    except OSError as error:
        if os.path.lexists(path):
            raise CannotCarryOut(
                f'"{_shown(path)}" is there already, and was left as it is. Choose another name.'
            ) from None
        raise _cannot(path, error) from None
    finally:
        if made is not None and made.exists():
            shutil.rmtree(made, ignore_errors=True)


def write_over(path: Path, made: bytes) -> None:
    """Write what was made from other files: new, or in the place of an ordinary file.

    Raises :class:`CannotCarryOut` if the name is that of a link, a folder or the like, or if it
    cannot be written; what was there is then as it was.
    """
    try:
        mode: int | None = path.lstat().st_mode
    except FileNotFoundError:
        mode = None
    except (OSError, ValueError) as error:
        raise _cannot(path, error) from None
    if mode is not None and not stat.S_ISREG(mode):
        what = "a folder" if stat.S_ISDIR(mode) else "a link or no file"
        raise CannotCarryOut(f'"{_shown(path)}" is {what}, and was left as it is.')
    if mode is not None and not os.access(path, os.W_OK):
        raise CannotCarryOut(f'"{_shown(path)}" may not be written, and was left as it is.')
    permissions = 0o666 & ~_umask() if mode is None else stat.S_IMODE(mode)
    temporary = _written_beside(path, made, permissions)
    _put(temporary, path)


def replace(path: Path, text: str) -> None:
    """Put ``text`` in the place of what a file says; its permissions stay.

    Raises :class:`CannotCarryOut` if it is not an ordinary file (a link is none) or cannot be
    written; the file is then as it was.
    """
    try:
        mode = path.lstat().st_mode
    except (OSError, ValueError) as error:
        raise _cannot(path, error) from None
    if not stat.S_ISREG(mode):
        raise CannotCarryOut(f'"{_shown(path)}" is a link or no file, and was left as it is.')
    if not os.access(path, os.W_OK):
        raise CannotCarryOut(f'"{_shown(path)}" may not be written, and was left as it is.')
    temporary = _written_beside(path, text.encode("utf-8"), stat.S_IMODE(mode))
    _put(temporary, path)


def _put(temporary: Path, path: Path) -> None:
    """The finished file under its name, in the place of what was there."""
    try:
        os.replace(temporary, path)
    except OSError as error:
        raise _cannot(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def _written_beside(path: Path, content: bytes, mode: int) -> Path:
    """A finished file with this content in the same folder, under a name of its own."""
    name: str | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", dir=path.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
    except BaseException as error:  # stopped in the middle as well: nothing is left behind
        if name is not None:
            Path(name).unlink(missing_ok=True)
        if isinstance(error, OSError | ValueError):
            raise _cannot(path, error) from None
        raise
    return Path(name)


def _write_exclusively(path: Path, text: str) -> None:
    """The same where files cannot have two names: written in place, but never over another."""
    try:
        stream = path.open("xb")
    except FileExistsError:
        raise CannotCarryOut(
            f'"{_shown(path)}" is there already, and was left as it is. Choose another name.'
        ) from None
    except OSError as error:
        raise _cannot(path, error) from None
    try:
        with stream:
            stream.write(text.encode("utf-8"))
    except BaseException as error:
        path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise _cannot(path, error) from None
        raise


def _cannot(path: Path, error: OSError | ValueError) -> CannotCarryOut:
    reason = getattr(error, "strerror", None) or "the name cannot be used"
    return CannotCarryOut(f'"{_shown(path)}" could not be written: {reason}.')


def _shown(path: Path) -> str:
    return terminal.visible_in_line(str(path))


def _umask() -> int:
    """The permissions held back from new files; they can only be read by setting them."""
    held = os.umask(0o077)
    os.umask(held)
    return held
