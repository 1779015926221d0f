"""Cases for a class: each is found by the diagnosis, and its answer is one of the causes."""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.data_files import data_path, names, read_toml
from fuelsim.diagnosis.causes import HEALTHY, causes_of

CASES = names("faults")


@pytest.mark.parametrize("name", CASES)
def test_the_hidden_fault_is_the_first_cause(name):
    case = fs.hidden_fault(name)
    found = fs.diagnose(case.system, case.readings)
    assert found.first.name == case.answer().split(":")[0]


def test_every_case_has_an_answer_that_is_a_cause_and_none_is_told_by_its_file():
    answers = read_toml(data_path("fault_answers.toml"))
    assert set(answers) == set(CASES)
    for name, answer in answers.items():
        case = fs.hidden_fault(name)
        assert answer["cause"] in [HEALTHY, *(cause.name for cause in causes_of(case.system))]
        assert answer["cause"] not in data_path("faults", f"{name}.toml").read_text(encoding="utf-8")
        assert len(repr(case)) < 400


def test_an_unknown_case_names_those_there_are():
    with pytest.raises(fs.InputError, match="one"):
        fs.hidden_fault("seven")
