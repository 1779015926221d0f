"""The one writer of all outputs: files appear together and whole, or not at all.

New contents are put beside the files to be, under hidden names in the same folder, so that a move never leaves a file
system and no folder above has to be writable. Where several files are replaced the old ones are moved aside first:
whenever the work is cut off, as by a kill or a power failure, old and new files never stand side by side. An error, or
Ctrl-C, puts everything back as it was.
"""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from fuelsim.errors import InputError
from fuelsim.interruption import interruption_held

__all__ = ["check_files", "check_folder", "write_files", "write_folder"]

NEW_FILE_MODE, PRIVATE_MODE = 0o666, 0o600
"""Permissions of a new file, from which the umask takes away, and of the content of a file that is to be replaced."""
_KINDS = ((stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a named pipe"), (stat.S_ISSOCK, "a socket"))


class _Target(NamedTuple):
    """A file to be written.

    Attributes
    ----------
    path : Path
        Where it stands once links are followed.
    old : os.stat_result or None
        What stands there; None if nothing does.
    """

    path: Path
    old: os.stat_result | None


class _Move(NamedTuple):
    """A file that changes its name within its folder."""

    source: Path
    destination: Path


@contextmanager
def _told_as_input_error(what: str, path: Path | str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"the {what} cannot be written ({reason})",
            given=str(path),
            accepted="a path that may be written to",
            file=str(path),
        ) from error


def check_files(paths: Iterable[Path | str]) -> None:
    """Refuse paths that cannot be written to; done before long work, so that it is not in vain.

    Parameters
    ----------
    paths : iterable of path
        Files to be.

    Raises
    ------
    InputError
        For what is not a regular file or may not be written to, naming it.
    """
    for path in paths:
        with _told_as_input_error("file", path):
            _refuse_unwritable_folder(_target(path).path.parent, path)


def check_folder(folder: Path | str) -> None:
    """Refuse a folder that cannot be written into; done before long work, so that it is not in vain.

    Parameters
    ----------
    folder : path
        Folder to be.

    Raises
    ------
    InputError
        For what is no folder or may not be written to, naming it.
    """
    with _told_as_input_error("folder", folder):
        path = Path(os.path.realpath(folder))
        if os.path.lexists(path) and not path.is_dir():
            raise InputError("the output folder is a file", given=str(folder), accepted="another folder")
        _refuse_unwritable_folder(path, folder)


def write_files(files: Mapping[Path, bytes]) -> None:
    """Write files so that all of them appear whole, or none.

    Links are followed. A file that is replaced keeps its permissions, and its owner where that is permitted; a new one
    has those of the umask. If a replaced file has further names (hard links), those keep the old content.

    Parameters
    ----------
    files : mapping of Path to bytes
        Content of each file; folders above it are made.

    Raises
    ------
    InputError
        Where one cannot be written, is not a regular file, or is the same file as another.
    """
    targets: list[_Target] = []
    for path in files:
        with _told_as_input_error("file", path):
            targets.append(_target(path))
            if targets[-1].path in [target.path for target in targets[:-1]]:
                raise InputError("two outputs are one file", given=str(path), accepted="no links to the same file")
    with _told_as_input_error("file" if len(files) == 1 else "files", next(iter(files), "")):
        _replace_together(targets, list(files.values()))


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files of a folder so that all of them appear whole, or none; other files in it stay.

    Parameters
    ----------
    folder : Path
        The folder to be; folders above it are made. A new one appears with all its files at once.
    files : mapping of str to bytes
        Content of each file by its name.

    Raises
    ------
    InputError
        Where the folder or a file in it cannot be written.
    """
    with _told_as_input_error("folder", folder):
        check_folder(folder)
        path = Path(os.path.realpath(folder))
        if path.is_dir():
            write_files({folder / name: content for name, content in files.items()})
            return
        made: list[Path] = []
        staged, complete = path.with_name(_hidden_name()), False
        try:
            _make_folders(path.parent, made)
            staged.mkdir()
            for name, content in files.items():
                _write(staged / name, content, NEW_FILE_MODE)
            os.rename(staged, path)
            complete = True
        finally:
            if not complete:
                with interruption_held():
                    _remove([staged / name for name in files])
                    _remove_folders([*made, staged])


def _target(path: Path | str) -> _Target:
    """Return where a file stands once links are followed, and what stands there if it may be replaced."""
    followed = Path(os.path.realpath(path))
    try:
        old = os.stat(followed)
    except FileNotFoundError:
        return _Target(followed, None)
    if not stat.S_ISREG(old.st_mode):
        kind = next((words for matches, words in _KINDS if matches(old.st_mode)), "a device")
        raise InputError(
            f"the file cannot be written: it is {kind}", accepted="a regular file or a new name", file=str(path)
        )
    if not os.access(followed, os.W_OK):
        raise InputError("the file is read-only", given=str(path), accepted="another name", file=str(path))
    return _Target(followed, old)


def _refuse_unwritable_folder(folder: Path, asked: Path | str) -> None:
    """Raise InputError where no file can be made in a folder, or the folder itself cannot be made."""
    while not os.path.lexists(folder):
        folder = folder.parent
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, f"{folder} is a file", str(asked))
    if not os.access(folder, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, f"no file may be made in {folder}", str(asked))


def _replace_together(targets: list[_Target], contents: list[bytes]) -> None:
    """Put contents in the place of files, all or none."""
    made: list[Path] = []
    moved: list[_Move] = []
    hidden, complete = _hidden_name(), False
    news = [target.path.with_name(f"{hidden}-{number}.new") for number, target in enumerate(targets)]
    olds = [target.path.with_name(f"{hidden}-{number}.old") for number, target in enumerate(targets)]
    try:
        for target, new, content in zip(targets, news, contents, strict=True):
            _make_folders(target.path.parent, made)
            _write(new, content, NEW_FILE_MODE if target.old is None else PRIVATE_MODE)
            if target.old is not None:
                _take_over_owner_and_mode(new, target.old)
        if len(targets) == 1:
            os.replace(news[0], targets[0].path)
        else:
            aside = [_Move(each.path, old) for each, old in zip(targets, olds, strict=True) if each.old is not None]
            for move in (*aside, *(_Move(new, each.path) for each, new in zip(targets, news, strict=True))):
                moved.append(move)
                os.replace(*move)
        complete = True
    finally:
        with interruption_held():
            if complete:
                _remove(olds)
            else:
                _undo(moved)
                _remove(news)
                _remove_folders(made)


def _undo(moved: list[_Move]) -> None:
    """Give files their names of before; a move that was not made, or whose file is gone, is passed over."""
    for move in reversed(moved):
        if not os.path.lexists(move.source):
            with suppress(OSError):
                os.replace(move.destination, move.source)


def _take_over_owner_and_mode(path: Path, old: os.stat_result) -> None:
    """Give a file the permissions of the one that it replaces, and its owner where that is permitted."""
    if hasattr(os, "chown") and (old.st_uid, old.st_gid) != (os.getuid(), os.getgid()):
        with suppress(PermissionError):
            os.chown(path, old.st_uid, old.st_gid)
    os.chmod(path, stat.S_IMODE(old.st_mode))


def _write(path: Path, content: bytes, mode: int) -> None:
    """Write a file that is not there yet, with permissions from which the umask takes away."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    with os.fdopen(handle, "wb") as file:
        file.write(content)


def _make_folders(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it that are missing, and add the new ones to a list, the innermost last."""
    missing = []
    for each in (folder, *folder.parents):
        if each.exists():
            break
        missing.append(each)
    for each in reversed(missing):
        each.mkdir(exist_ok=True)
        made.append(each)


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        with suppress(OSError):
            path.unlink()


def _remove_folders(folders: list[Path]) -> None:
    """Remove folders that are empty, the innermost, last in the list, first."""
    for folder in reversed(folders):
        with suppress(OSError):
            folder.rmdir()


def _hidden_name() -> str:
    return f".fuelsim-{secrets.token_hex(4)}"
