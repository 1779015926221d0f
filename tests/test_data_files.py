"""The data folder is found, stays closed, and odd files give one error that names them."""

import os

import pytest

from fuelsim import data_files
from fuelsim.errors import FuelsimError, InputError


def refused(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return str(caught.value)


def test_data_folder_is_found():
    assert data_files.data_path("README.md").is_file()


@pytest.mark.parametrize(
    "parts", [("..", "pyproject.toml"), ("fuels", "..", "..", "x"), ("/etc/passwd",), ("fuels", "/etc/passwd"), ("..",)]
)
def test_no_name_leaves_the_data_folder(parts):
    assert "leaves the data folder" in refused(data_files.data_path, *parts)


@pytest.mark.parametrize("name", ["../README", "", ".", "a\x00b", "/etc/passwd", "x" * 5000, "sumer_e10"])
def test_unknown_names_are_refused_with_the_known_ones(name):
    said = refused(data_files.named_path, "fuels", name)
    assert "no such name in data/fuels" in said
    assert "accepted: " in said


def test_link_out_of_the_data_folder_is_not_followed(tmp_path, monkeypatch):
    inside = tmp_path / "data"
    inside.mkdir()
    (inside / "README.md").write_text("data")
    (tmp_path / "secret.toml").write_text("a = 1")
    (inside / "link.toml").symlink_to(tmp_path / "secret.toml")
    monkeypatch.setattr(data_files, "_data_folder", lambda: inside)
    assert "leaves the data folder" in refused(data_files.data_path, "link.toml")


def test_missing_folder_is_named(monkeypatch):
    data_files._data_folder.cache_clear()
    monkeypatch.setattr(data_files, "__file__", "/nowhere/fuelsim/data_files.py")
    with pytest.raises(FuelsimError, match=r"data/README\.md in /nowhere/fuelsim and /nowhere"):
        data_files.data_path("fuels")
    data_files._data_folder.cache_clear()


def test_toml_is_read_with_or_without_byte_order_mark(tmp_path):
    path = tmp_path / "car.toml"
    path.write_bytes("\ufeffname = 'Finch'\n".encode())
    assert data_files.read_toml(path) == {"name": "Finch"}
    assert data_files.read_toml(str(path)) == {"name": "Finch"}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\x7fELF\xff\xfe\x00", "not text"),
        ("name = 'Finch'".encode("utf-16"), "not text"),
        (b"a = ", "not a TOML file"),
        (b"a = 1\na = 2", "not a TOML file"),
        (b"a = " + b"[" * 50_000, "not a TOML file"),
        (b"a = 1\n" * 500_000, "too large"),
        (b"# " + b"x" * 200_000, "too large"),
        (b"a = 1\x00", "not a TOML file"),
    ],
)
def test_odd_files_get_one_error_that_names_the_file(tmp_path, content, said):
    path = tmp_path / "car.toml"
    path.write_bytes(content)
    message = refused(data_files.read_toml, path)
    assert said in message
    assert f"file {path}" in message


def test_missing_files_folders_and_impossible_names_are_input_errors(tmp_path):
    assert "no such file" in refused(data_files.read_toml, tmp_path / "none.toml")
    assert "a folder" in refused(data_files.read_toml, tmp_path)
    refused(data_files.read_toml, "a\x00b")
    refused(data_files.read_toml, "x" * 5000)


def test_a_pipe_is_no_file_and_does_not_hang(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert "a pipe or a device, not a file" in refused(data_files.read_toml, tmp_path / "pipe")


@pytest.mark.parametrize("key", [".".join(["a"] * 40_000), ".".join(["'a'"] * 30_000), " . ".join(['"b"'] * 25)])
@pytest.mark.parametrize("text", ["{} = 1", "[{}]", "x = {{ {} = 1 }}", "[[{}]]"])
def test_a_key_of_too_many_names_is_refused_before_it_is_read(tmp_path, key, text):
    path = tmp_path / "car.toml"
    path.write_text("name = 'Finch'\n" + text.format(key))
    assert "line 2: a key of too many names" in refused(data_files.read_toml, path)


def test_the_longest_key_of_a_car_is_far_from_too_deep(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text("a.b.c.d.e.f.g = 'one. two. three. four' # a.b.c.d.e.f.g.h.i.j.k.l.m")
    assert data_files.read_toml(path)["a"]["b"]["c"]["d"]["e"]["f"]["g"] == "one. two. three. four"


def test_syntax_error_says_line_and_column(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text("name = 'Finch'\nbore = = 3\n")
    assert "line 2" in refused(data_files.read_toml, path)
