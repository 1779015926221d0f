"""The one writer of outputs: all whole or nothing, through links, with the permissions that were there."""

from __future__ import annotations

import os
import socket
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from fuelsim import output_files
from fuelsim.errors import InputError
from fuelsim.output_files import check_files, check_folder, write_files, write_folder

OLD, NEW = b"old", b"new" * 1000
NAMES = ("a.csv", "b.csv", "c.html")

on_posix = pytest.mark.skipif(sys.platform == "win32", reason="permissions, pipes and links of POSIX")


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def umask():
    """The umask 027 while the test lasts."""
    before = os.umask(0o027)
    yield 0o027
    os.umask(before)


def test_a_new_folder_and_the_folders_above_it_are_made(tmp_path):
    write_folder(tmp_path / "one" / "two", dict.fromkeys(NAMES, NEW))
    assert contents(tmp_path / "one" / "two") == dict.fromkeys(NAMES, NEW)


def test_files_in_a_folder_are_replaced_and_others_in_it_stay(tmp_path):
    (tmp_path / "notes.txt").write_bytes(OLD)
    (tmp_path / "a.csv").write_bytes(OLD)
    write_folder(tmp_path, dict.fromkeys(NAMES, NEW))
    assert contents(tmp_path) == {"notes.txt": OLD, **dict.fromkeys(NAMES, NEW)}


@on_posix
def test_new_files_and_folders_have_the_permissions_of_the_umask(tmp_path, umask):
    write_folder(tmp_path / "folder", {"a.csv": NEW})
    write_files({tmp_path / "b.csv": NEW})
    assert mode(tmp_path / "folder") == 0o777 & ~umask
    assert mode(tmp_path / "folder" / "a.csv") == mode(tmp_path / "b.csv") == 0o666 & ~umask


@on_posix
@pytest.mark.parametrize("permissions", [0o600, 0o640, 0o664, 0o755])
def test_a_replaced_file_keeps_its_permissions(tmp_path, umask, permissions):
    for name in NAMES:
        (tmp_path / name).write_bytes(OLD)
        (tmp_path / name).chmod(permissions)
    write_files({tmp_path / "a.csv": NEW})
    write_folder(tmp_path, dict.fromkeys(NAMES[1:], NEW))
    assert {mode(tmp_path / name) for name in NAMES} == {permissions}
    assert contents(tmp_path) == dict.fromkeys(NAMES, NEW)


@on_posix
def test_links_are_written_through_and_stay_links(tmp_path):
    home = tmp_path / "home"
    (home / "real").mkdir(parents=True)
    (home / "there.html").write_bytes(OLD)
    (home / "there.html").chmod(0o600)
    for link, target in (("there", "home/there.html"), ("new", "home/new.html"), ("again", "there")):
        (tmp_path / link).symlink_to(target)
    (tmp_path / "folder").symlink_to("home/real")
    (tmp_path / "none").symlink_to("home/none")
    write_files({tmp_path / "again": NEW, tmp_path / "new": NEW})
    for folder in ("folder", "none"):
        write_folder(tmp_path / folder, {"a.csv": NEW})
    assert all((tmp_path / link).is_symlink() for link in ("there", "new", "again", "folder", "none"))
    assert (home / "there.html").read_bytes() == (home / "new.html").read_bytes() == NEW
    assert mode(home / "there.html") == 0o600
    assert (home / "real" / "a.csv").read_bytes() == (home / "none" / "a.csv").read_bytes() == NEW
    assert {path.name for path in home.iterdir()} == {"real", "none", "there.html", "new.html"}


@on_posix
@pytest.mark.parametrize("kind", ["a named pipe", "a socket", "a folder"])
def test_what_is_no_regular_file_is_refused_and_nothing_beside_it_is_written(tmp_path, kind, monkeypatch):
    monkeypatch.chdir(tmp_path)  # the path of a socket is short
    (tmp_path / "a.csv").write_bytes(OLD)
    if kind == "a named pipe":
        os.mkfifo("c.html")
    elif kind == "a folder":
        Path("c.html").mkdir()
    else:
        with socket.socket(socket.AF_UNIX) as each:
            each.bind("c.html")
    (tmp_path / "link.html").symlink_to("c.html")
    there = {path.name: path.lstat().st_ino for path in tmp_path.iterdir()}
    for name in ("c.html", "link.html"):
        with pytest.raises(InputError, match=f"cannot be written: it is {kind}"):
            write_files({tmp_path / "a.csv": NEW, tmp_path / "b.csv": NEW, tmp_path / name: NEW})
        with pytest.raises(InputError, match=kind):
            check_files([tmp_path / name])
        with pytest.raises(InputError, match=kind):
            write_folder(tmp_path, {"a.csv": NEW, name: NEW})
    assert {path.name: path.lstat().st_ino for path in tmp_path.iterdir()} == there
    assert (tmp_path / "a.csv").read_bytes() == OLD


@on_posix
def test_links_in_a_circle_a_file_as_folder_and_two_names_of_one_file_are_messages(tmp_path):
    (tmp_path / "circle").symlink_to("circle")
    (tmp_path / "file").write_bytes(OLD)
    (tmp_path / "link").symlink_to("file")
    for path in ("circle", "circle/a.csv", "file/a.csv", "file/b/a.csv", "a\0b", "x" * 300):
        with pytest.raises(InputError, match="cannot be written"):
            check_files([tmp_path / path])
        with pytest.raises(InputError, match="cannot be written"):
            write_files({tmp_path / path: NEW})
    with pytest.raises(InputError, match="two outputs are one file"):
        write_files({tmp_path / "link": NEW, tmp_path / "file": NEW})
    for folder in ("file", "link"):
        with pytest.raises(InputError, match="is a file"):
            check_folder(tmp_path / folder)
    for folder in ("circle", "file/b", "a\0b", "x" * 300):
        with pytest.raises(InputError, match=r"cannot be written|is a file"):
            write_folder(tmp_path / folder, {"a.csv": NEW})
    assert {path.name for path in tmp_path.iterdir()} == {"circle", "file", "link"}
    assert (tmp_path / "file").read_bytes() == OLD


@on_posix
@pytest.mark.skipif(hasattr(os, "getuid") and os.getuid() == 0, reason="root may write everywhere")
def test_what_may_not_be_written_to_is_a_message(tmp_path):
    (tmp_path / "file").write_bytes(OLD)
    (tmp_path / "file").chmod(0o444)
    (tmp_path / "folder").mkdir(mode=0o555)
    for path, said in (("file", "read-only"), ("folder/a.csv", "no file may be made in")):
        with pytest.raises(InputError, match=said):
            check_files([tmp_path / path])
    with pytest.raises(InputError, match="no file may be made in"):
        check_folder(tmp_path / "folder" / "new")


def test_writing_into_a_folder_touches_nothing_above_it(tmp_path):
    """So that it may be a mount point or another file system, and the one above need not be writable."""
    folder = tmp_path / "folder"
    folder.mkdir()
    os.utime(tmp_path, ns=(1, 1))
    write_folder(folder, dict.fromkeys(NAMES, NEW))
    write_folder(folder, dict.fromkeys(NAMES, OLD))
    assert tmp_path.stat().st_mtime_ns == 1
    assert contents(folder) == dict.fromkeys(NAMES, OLD)


def test_no_move_leaves_its_folder(tmp_path, monkeypatch):
    """A move from one file system to another fails with "Invalid cross-device link"."""
    moves = []
    for name in ("replace", "rename"):
        move = getattr(os, name)
        monkeypatch.setattr(os, name, lambda *names, move=move: (moves.append(names), move(*names)))
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "a.csv").write_bytes(OLD)
    if sys.platform != "win32":
        (tmp_path / "a.csv").symlink_to("elsewhere/a.csv")
    write_folder(tmp_path, dict.fromkeys(NAMES, NEW))
    write_folder(tmp_path / "new", dict.fromkeys(NAMES, NEW))
    assert len(moves) >= len(NAMES) + 1
    assert all(Path(source).parent == Path(destination).parent for source, destination in moves)


class Cut(BaseException):
    """As Ctrl-C may come anywhere."""


CALLS = ("open", "replace", "rename", "chmod", "mkdir")


def failing_at(fatal, kind, calls, *, done, monkeypatch):
    """Let the call with a number fail before it is done or after, and no other one."""
    count = iter(range(10_000))
    for name in calls:
        work = getattr(os, name)

        def call(*arguments, work=work, **named):
            fails = next(count) == fatal
            if done or not fails:
                work_done = work(*arguments, **named)
            if fails:
                raise kind(5, "the disk failed")
            return work_done

        monkeypatch.setattr(os, name, call)


@pytest.mark.parametrize("kind", [Cut, OSError])
@pytest.mark.parametrize(("calls", "done"), [(CALLS, False), (("replace", "chmod"), True)])
@pytest.mark.parametrize("there", [("a.csv",), NAMES, ()])
def test_an_error_or_ctrl_c_at_any_step_leaves_everything_as_it_was(tmp_path, monkeypatch, kind, calls, done, there):
    """The n-th call of the operating system fails, for every n."""
    folder = tmp_path / "out"
    if there:
        folder.mkdir()
    for name in there:
        (folder / name).write_bytes(OLD)
    for fatal in range(100):
        failing_at(fatal, kind, calls, done=done, monkeypatch=monkeypatch)
        try:
            write_folder(folder, dict.fromkeys(NAMES, NEW))
            break
        except (Cut, InputError):
            assert contents(tmp_path if not there else folder) == dict.fromkeys(there, OLD)
        finally:
            monkeypatch.undo()
    assert contents(folder) == dict.fromkeys(NAMES, NEW)
    assert fatal > len(NAMES) or done


@on_posix
def test_a_kill_at_any_step_never_leaves_old_and_new_files_side_by_side(tmp_path):
    """A child ends without any clean-up at its n-th step, for every n."""
    for fatal in range(100):
        folder = tmp_path / str(fatal)
        folder.mkdir()
        for name in NAMES:
            (folder / name).write_bytes(OLD)
        child = os.fork()
        if not child:
            for name in CALLS:
                setattr(os, name, ending_at(getattr(os, name), fatal))
            write_folder(folder, dict.fromkeys(NAMES, NEW))
            os._exit(0)
        _, status = os.waitpid(child, 0)
        left = {name: content for name, content in contents(folder).items() if not name.startswith(".fuelsim-")}
        assert set(left.values()) in ({OLD}, {NEW}, set())
        if os.waitstatus_to_exitcode(status) == 0:
            assert left == dict.fromkeys(NAMES, NEW)
            break
    assert fatal > 2 * len(NAMES)


def ending_at(work, fatal, count=[]):  # noqa: B006 - one list for all calls, of which the child has a copy
    def call(*arguments, **named):
        count.append(work)
        if len(count) > fatal:
            os._exit(9)
        return work(*arguments, **named)

    return call


@on_posix
def test_a_full_disk_is_a_message_and_leaves_the_old_files(tmp_path):
    """A limit on the size of files stands in for the full disk."""
    (tmp_path / "a.csv").write_bytes(OLD)
    code = (
        "import resource, signal, sys; from pathlib import Path; from fuelsim.output_files import write_folder\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "try:\n    write_folder(Path(sys.argv[1]), {'a.csv': b'x', 'b.csv': b'x' * 3000})\n"
        "except Exception as error:\n    print(type(error).__name__, error)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("InputError")
    assert contents(tmp_path) == {"a.csv": OLD}


def test_every_output_goes_through_the_one_writer():
    """Nowhere else in the package is a file opened for writing, moved or made."""
    package = Path(output_files.__file__).parent
    forbidden = (
        "write_text(",
        "write_bytes(",
        '.open("w',
        "os.replace",
        "os.rename",
        ".mkdir(",
        "mkstemp",
        "to_csv(path",
    )
    for path in package.rglob("*.py"):
        if path.name != "output_files.py":
            code = "\n".join(line for line in path.read_text("utf-8").splitlines() if ">>>" not in line)
            assert not [each for each in forbidden if each in code], path
