"""Settings of the test runs that `noticed_changes.py` starts: which tests run, in which order, and what each enters."""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Collection, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

__all__ = ["Ordered", "Recorder"]

_TIMES_AS_LONG = 15.0
"""Processor time after which a test that a change hangs is given up, in times of its own."""
_LEAST_TIME = 20.0
"""Processor time that any test has at least, s."""


class Recorder:
    """Notes which functions of the package each test enters, and how long it takes."""

    def __init__(self, package: Path, known: Collection[str] = ()) -> None:
        self.package, self.known = f"{package}{os.sep}", known
        self.entered: dict[str, list[str]] = {}
        self.seconds: dict[str, float] = {}
        self.names: dict[Any, str] = {}

    def trace(self, frame: FrameType, event: str, argument: object) -> None:
        code = frame.f_code
        if code in self.seen:
            return
        self.seen.add(code)
        if code.co_filename.startswith(self.package):
            path = code.co_filename[len(self.package) :].replace(os.sep, "/")
            self.inside.add(f"{path}:{code.co_qualname.rpartition('<locals>.')[2].rpartition('.')[2]}")

    seen: set[Any]
    inside: set[str]

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if item.nodeid not in self.known]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.seen, self.inside = set(), set()
        start = time.perf_counter()
        sys.settrace(self.trace)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            self.entered[item.nodeid] = sorted(self.inside)
            self.seconds[item.nodeid] = time.perf_counter() - start

    def written(self, path: Path) -> None:
        """Write what was noted, and the modules from outside the project that the tests loaded."""
        loaded = sorted(
            name
            for name, module in list(sys.modules.items())
            if "site-packages" in (getattr(module, "__file__", None) or "")
            and not name.startswith(("test", "conftest"))
        )
        path.write_text(json.dumps({"entered": self.entered, "seconds": self.seconds, "loaded": loaded}))


class Ordered:
    """Runs some of the collected tests in a given order, and ends the run at a test that hangs."""

    def __init__(self, order: dict[str, int], seconds: dict[str, float], only: bool) -> None:
        self.order, self.seconds, self.only = order, seconds, only
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        known = self.order if self.only else self.seconds
        items[:] = [item for item in items if item.nodeid in known]
        items.sort(key=lambda item: self.order.get(item.nodeid, 10**9))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed and not self.failed:
            self.failed = f"collection of {report.nodeid}"

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.running = item.nodeid
        signal.setitimer(signal.ITIMER_PROF, _LEAST_TIME + _TIMES_AS_LONG * self.seconds.get(item.nodeid, 1.0))
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)

    running = ""
