"""A headless browser for tests: what a page draws, prints, asks for and complains of."""

import json
import shutil
import subprocess

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-logging=stderr",
    # No name is found, so neither the page nor the browser itself reaches anything.
    "--host-resolver-rules=MAP * ~NOTFOUND",
)

needs_browser = pytest.mark.skipif(BROWSER is None, reason="the Debian package chromium is not installed")


def browse(page, folder, *options):
    """Open a page with a profile of its own; return standard output and the lines the page wrote to its console."""
    command = [BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *options, page.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=90, check=False)
    return done.stdout, [line for line in done.stderr.splitlines() if "CONSOLE" in line]


def requested(log):
    """Return the addresses that the page asked for, from a net log of the browser; its own errands left out."""
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    asked = [event["params"] for event in events if isinstance(event.get("params"), dict)]
    by_page = [params for params in asked if params.get("initiator", "not an origin") != "not an origin"]
    return {params["url"] for params in by_page if not params["url"].startswith(("file:", "data:"))}
