"""A page as PDF: printed by a browser of this machine, or laid out by WeasyPrint (extra `pdf`).

Either way it is the same HTML. Nothing is asked from outside: the page carries all it shows, the browser gets
an empty profile of its own and can't resolve any name.
"""

from __future__ import annotations

import logging
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from contactread.errors import ContactreadError

TIME_LIMIT_S = 60.0
_COMMANDS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge",
    "microsoft-edge-stable", "msedge",
)  # fmt: skip
_MAC = ("Chromium", "Google Chrome", "Microsoft Edge")
_WINDOWS = ("Google/Chrome/Application/chrome.exe", "Microsoft/Edge/Application/msedge.exe")
FLAGS = (
    "--headless", "--disable-gpu", "--disable-quic", "--disable-extensions", "--disable-sync",
    "--no-first-run", "--no-default-browser-check", "--disable-background-networking",
    "--disable-component-update", "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer",
)  # fmt: skip


def page_as_pdf(page: str) -> bytes:
    """The PDF of a page that needs nothing from outside.

    Raises `ContactreadError` pdf-no-printer where neither a browser nor WeasyPrint can do it.
    """
    troubles = []
    for browser in browsers():
        try:
            return _by_browser(browser, page)
        except (OSError, subprocess.SubprocessError) as error:
            troubles.append(f"{browser.name} can't print it ({_short(error)})")
    try:
        return _by_weasyprint(page)
    except (ImportError, OSError, UnicodeError) as error:  # it takes no folder whose name isn't text
        troubles += (
            [] if isinstance(error, ModuleNotFoundError) else [f"WeasyPrint can't be loaded ({error})"]
        )
    reason = "; ".join(troubles) or "no such browser was found, and the extra isn't installed"
    raise ContactreadError(
        "pdf-no-printer",
        f"A PDF is printed by Chromium, Chrome or Edge, or made by the extra 'pdf': {reason}.",
        "Without --pdf the report is one HTML page: open it in any browser and choose Print, Save as PDF. "
        "Or install one of those browsers, or: pip install 'contactread[pdf]'",
    )


def browsers() -> list[Path]:
    """Browsers of this machine that can print without a window, best first."""
    found = [Path(path) for path in map(shutil.which, _COMMANDS) if path]
    if sys.platform == "darwin":
        found += [Path(f"/Applications/{name}.app/Contents/MacOS/{name}") for name in _MAC]
    if sys.platform == "win32":
        roots = [os.environ.get(key) for key in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")]
        found += [Path(root, place) for root in roots if root for place in _WINDOWS]
    return [path for path in dict.fromkeys(found) if path.is_file()]


def _by_browser(browser: Path, page: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="contactread-", ignore_cleanup_errors=True) as folder:
        source, target = Path(folder, "page.html"), Path(folder, "page.pdf")
        source.write_text(page, encoding="utf-8")
        command = [str(browser), *FLAGS, f"--user-data-dir={Path(folder, 'profile')}"]
        # A browser refuses to run as root with its sandbox; the page holds no script.
        command += ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        _run([*command, f"--print-to-pdf={target}", source.as_uri()])
        data = target.read_bytes()
    if not data.startswith(b"%PDF-"):
        raise OSError("what it wrote is no PDF")
    return data


def _run(command: list[str]) -> None:
    """Run a browser and end it, with all that it started, at the time limit."""
    process = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        start_new_session=True,
    )  # fmt: skip
    try:
        code = process.wait(TIME_LIMIT_S)
    finally:
        if process.poll() is None:
            if hasattr(os, "killpg"):
                os.killpg(process.pid, signal.SIGKILL)
            else:
                process.kill()
            process.wait()
    if code:
        raise subprocess.CalledProcessError(code, command[0])


def _by_weasyprint(page: str) -> bytes:
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # it warns of rules meant for screens
    only_inside = URLFetcher(allowed_protocols=["data"])
    return bytes(HTML(string=page, url_fetcher=only_inside).write_pdf())


def _short(error: Exception) -> str:
    if isinstance(error, subprocess.TimeoutExpired):
        return f"not ready after {error.timeout:.0f} s"
    if isinstance(error, subprocess.CalledProcessError):
        return f"ended with {error.returncode}"
    return error.strerror if isinstance(error, OSError) and error.strerror else str(error)
