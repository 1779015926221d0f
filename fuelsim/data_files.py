"""Files: the ``data`` folder, wherever the package is installed, and reading whole files."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

from fuelsim.errors import FuelsimError, InputError, nearest
from fuelsim.typing import TomlTable

__all__ = ["data_path", "names", "read_text", "read_toml"]

MAXIMUM_FILE_BYTES = 2_000_000
MAXIMUM_TOML_BYTES = 200_000
"""A car file of a hundred named tables has about 40 kB."""
DEEPEST_KEY = 20
"""Names of a dotted key: a reader of TOML takes time that grows with the square of their number."""
_DEEP_KEY = re.compile(rf"""(?<![\w"'-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{DEEPEST_KEY}}}""")


@cache
def _data_folder() -> Path:
    package = Path(__file__).resolve().parent
    for folder in (package / "data", package.parent / "data"):
        if (folder / "README.md").is_file():
            return folder
    raise FuelsimError(
        f"the data folder is missing: looked for data/README.md in {package} and {package.parent}; reinstall fuelsim"
    )


def data_path(*parts: str) -> Path:
    """Return the path of a file or folder in ``data``.

    Parameters
    ----------
    *parts : str
        Path below ``data``, as in ``data_path("fuels", "summer_e10.toml")``.

    Raises
    ------
    InputError
        If a part would leave the data folder.

    Examples
    --------
    >>> data_path("README.md").name
    'README.md'
    """
    folder = _data_folder()
    path = folder.joinpath(*parts).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise InputError("the name leaves the data folder", given="/".join(parts), accepted="a name inside data")
    return path


def names(kind: str, suffix: str = ".toml") -> list[str]:
    """Return the names available in one folder of ``data``, sorted.

    Parameters
    ----------
    kind : str
        The folder, such as ``"fuels"``.
    suffix : str
        Ending of its files.

    Examples
    --------
    >>> "summer_e10" in names("fuels")
    True
    """
    return sorted(path.stem for path in data_path(kind).glob(f"*{suffix}"))


def named_path(kind: str, name: str, suffix: str = ".toml") -> Path:
    """Return the file of a name in a folder of ``data``.

    Parameters
    ----------
    kind : str
        The folder, such as ``"fuels"``.
    name : str
        Name of the file without its ending.
    suffix : str
        Its ending.

    Raises
    ------
    InputError
        For an unknown name, with the nearest known one.
    """
    known = names(kind, suffix)
    if name not in known:
        raise InputError(f"no such name in data/{kind}", given=name, accepted=nearest(name, known))
    return data_path(kind, f"{name}{suffix}")


def read_text(path: Path | str, most: int = MAXIMUM_FILE_BYTES) -> str:
    """Return a text file's content.

    Parameters
    ----------
    path : path
        The file.
    most : int
        Bytes that it may have.

    Raises
    ------
    InputError
        If the file is missing, not a file, too large for its purpose, or not UTF-8 text.
    """
    path = Path(path)
    try:
        if not path.is_file():
            problem = "no such file"
            if path.exists():
                problem = "a folder, not a file" if path.is_dir() else "a pipe or a device, not a file"
            raise InputError(problem, given=str(path), accepted="a readable text file", file=str(path))
        if path.stat().st_size > most:
            raise InputError("the file is too large", accepted=f"at most {most} bytes", file=str(path))
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("the file is not text", accepted="UTF-8 text", file=str(path)) from error
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"the file cannot be read ({reason})", given=str(path), accepted="a readable text file", file=str(path)
        ) from error


def read_toml(path: Path | str) -> TomlTable:
    """Return the tables of a TOML file.

    Parameters
    ----------
    path : path
        The file.

    Raises
    ------
    InputError
        As `read_text`, and where the text is not TOML, with line and column.
    """
    text = read_text(path)
    if len(text) > MAXIMUM_TOML_BYTES:
        accepted = f"at most {MAXIMUM_TOML_BYTES // 1000} kB"
        raise InputError("the file is too large", given=f"{len(text) // 1000} kB", accepted=accepted, file=str(path))
    deep = _DEEP_KEY.search(text)
    if deep:
        line = text.count("\n", 0, deep.start()) + 1
        accepted = f"keys of less than {DEEPEST_KEY} names"
        raise InputError(f"line {line}: a key of too many names", given=deep[0], accepted=accepted, file=str(path))
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also an integer of thousands of digits
        raise InputError(f"not a TOML file: {error}", accepted="TOML 1.0", file=str(path)) from error
