"""Write the table of questions and the values of the fuel in README.md anew.

python tests/by_hand/renew_readme.py
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "fuel"))

import published_values as published  # noqa: E402

from fuelsim.data_files import data_path, read_toml  # noqa: E402


def replaced(text: str, head: str, rows: list[str]) -> str:
    """Return a text with other rows in the table of a heading."""
    before, after = text.split(head, 1)
    return before + head + "".join(f"{row}\n" for row in rows) + "\n" + after.split("\n\n", 1)[1]


def main() -> None:
    path = ROOT / "README.md"
    text = path.read_text(encoding="utf-8")
    asked = [f"| {row['question']} | {row['call']} |" for row in read_toml(data_path("questions.toml"))["questions"]]
    text = replaced(text, "| question | call |\n|---|---|\n", asked)
    for row in published.on_the_front_page():
        start = f"| {row.quantity} |"
        text = "\n".join(row.markdown() if line.startswith(start) else line for line in text.split("\n"))
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
