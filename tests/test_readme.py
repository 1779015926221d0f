"""What README shows is run: each block of Python, in order, from an empty folder."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

README = Path(__file__).parents[1] / "README.md"
BLOCKS = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.filterwarnings("error")
def test_every_python_block_of_the_readme_runs_in_an_empty_folder(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    assert BLOCKS
    for block in BLOCKS:
        exec(compile(block, "README.md", "exec"), names)
    assert "rail_kPa_gauge" in capsys.readouterr().out
    assert (tmp_path / "report.html").is_file()


def test_the_first_block_is_ten_lines_to_a_rail_pressure():
    code = [line for line in BLOCKS[0].splitlines() if line and not line.startswith("import")]
    assert len(code) <= 10


def test_every_local_link_and_picture_of_the_readme_exists():
    for target in re.findall(r"\]\(([^)#]+)\)", README.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (README.parent / target).exists(), target
