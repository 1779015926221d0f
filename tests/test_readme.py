"""What README shows is run: each block of Python, in order, from an empty folder."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import fuelsim as fs

README = Path(__file__).parents[1] / "README.md"
TEXT = README.read_text(encoding="utf-8")
BLOCKS = re.findall(r"```python\n(.*?)```", TEXT, flags=re.DOTALL)


@pytest.mark.filterwarnings("error")
def test_every_python_block_of_the_readme_runs_in_an_empty_folder(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    assert BLOCKS
    for block in BLOCKS:
        exec(compile(block, "README.md", "exec"), names)
    assert "rail_kPa_gauge" in capsys.readouterr().out
    for name in ("network.png", "report.html", "mine.svg"):
        assert (tmp_path / name).is_file()


def test_the_readme_is_a_front_page():
    lines = TEXT.splitlines()
    assert len(lines) < 150
    assert lines[2].startswith("fuelsim is a Python library for people who convert older cars")


def test_the_table_of_questions_is_that_of_the_library():
    """Written anew with ``python tests/by_hand/renew_readme.py``."""
    rows = TEXT.split("| question | call |\n|---|---|\n")[1].split("\n\n")[0].splitlines()
    asked = fs.questions()["call"]
    assert [row.replace("`", "") for row in rows] == [f"| {question} | {call} |" for question, call in asked.items()]


def test_every_name_of_the_library_in_the_calls_exists():
    called = set(re.findall(r"\bfs\.(\w+)", " ".join(fs.questions()["call"])))
    assert len(called) > 40
    assert called <= set(fs.__all__)


def test_questions_are_found_by_a_word_and_a_word_in_none_is_refused():
    assert "Return or returnless?" in fs.questions("RETURNLESS").index
    assert len(fs.questions("pump")) < len(fs.questions())
    with pytest.raises(fs.InputError, match="no question about this"):
        fs.questions("zeppelin")


def test_the_first_block_is_ten_lines_to_a_picture():
    code = [line for line in BLOCKS[0].splitlines() if line and not line.startswith("import")]
    assert len(code) <= 10


def test_every_local_link_and_picture_of_the_readme_exists():
    for target in re.findall(r"\]\(([^)#]+)\)", TEXT):
        if "://" not in target:
            assert (README.parent / target).exists(), target
