"""`evenfall app`: the dashboard's server, with the settings that it needs from any folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def settings_of(port: int, share: bool, browser: bool) -> dict[str, object]:
    """Settings of the dashboard's server, so that they hold from any folder."""
    return {
        "server.address": "0.0.0.0" if share else "127.0.0.1",
        "server.port": port,
        "server.maxUploadSize": 5,
        "server.disconnectedSessionTTL": 3600,
        "server.headless": "false" if browser else "true",
        "server.showEmailPrompt": "false",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": "localhost",
        "client.toolbarMode": "minimal",
        "client.showErrorLinks": "false",
        # Streamlit's own welcome, and with it what it advertises in the terminal and over the page.
        "logger.hideWelcomeMessage": "true",
        # One colour for each, so that the page still follows the machine's light or dark.
        "theme.light.primaryColor": "#1b6e8a",
        "theme.dark.primaryColor": "#5fb3cc",
    }


def _check_port(address: str, port: int) -> None:
    """Say what to do where the server could not listen; Streamlit only says that the port is not available."""
    import errno
    import os
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
        if os.name == "posix":  # elsewhere the option would let two programs share the port
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((address, port))
            trial.listen()
        except OSError as error:
            other = port + 1 if 1024 <= port < 65535 else 8501
            if error.errno in (errno.EACCES, errno.EPERM):
                raise ValueError(f"received port {port}, which only an administrator may use, expected one from 1024 "
                                 f"on, try --port {other}") from None
            raise ValueError(
                f"received port {port}, which another program is using, expected a free one, open http://localhost:"
                f"{port} if Evenfall runs there already, or start it with --port {other}") from None


def run(words: argparse.Namespace) -> int:
    """Open the dashboard; where the system allows it, this process becomes its server."""
    import os
    import signal

    if not 1 <= words.port <= 65535:
        raise ValueError(f"received port {words.port}, expected 1 to 65535, choose another")
    settings = settings_of(words.port, words.share, not words.no_browser)
    _check_port(settings["server.address"], words.port)
    page = Path(__file__).parents[1] / "dashboard" / "app.py"
    command = [sys.executable, "-m", "streamlit", "run", str(page)]
    for key, value in settings.items():
        command += [f"--{key}", str(value)]
    if words.share:
        print("Everybody in this network can now read and write what is entered, unless accounts are set up. Stop with "
              "Ctrl+C.", file=sys.stderr)
    sys.stdout.flush()
    if os.name == "nt":
        import subprocess

        return subprocess.run(command).returncode
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server takes Ctrl+C itself, and has nothing to say after it
    os.execv(sys.executable, command)  # one process: stopping the command stops the server
