"""Real servers for the browser tests: JupyterLab and Voila, each with folders of its own."""

import json
import os
import random
import secrets
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

_UP_WITHIN = 300  # seconds; a busy machine is slow
_PROJECT = Path(__file__).resolve().parents[2]

#: Cells off the screen stay in the page, and nothing is fetched from outside.
_LAB_SETTINGS = {
    "notebook-extension/tracker": {"windowingMode": "none"},
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
}


@dataclass(frozen=True)
class Server:
    """A running server: where it is, and the folder it serves."""

    url: str
    token: str
    root: Path


@contextmanager
def lab(place, root, theme="JupyterLab Light"):
    """Run JupyterLab over the folder `root`; `place` takes its private folders."""
    settings = place / "lab_settings" / "@jupyterlab"
    themes = {"apputils-extension/themes": {"theme": theme}}
    for name, values in {**_LAB_SETTINGS, **themes}.items():
        file = settings / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(values), encoding="utf-8")
    token, port = secrets.token_hex(16), _free_port()
    command = [
        "jupyterlab",
        "--no-browser",
        "--ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={token}",
        f"--ServerApp.root_dir={root}",
        "--expose-app-in-browser",
        "--LabApp.extension_manager=readonly",
        *_as_root(),
    ]
    url = f"http://127.0.0.1:{port}"
    with _running(command, place, f"{url}/api/status?token={token}", root):
        yield Server(url, token, root)


@contextmanager
def voila(place, root):
    """Run Voila over the notebooks in the folder `root`; `place` takes its private folders."""
    port = _free_port()
    command = [
        "voila",
        str(root),
        "--no-browser",
        "--Voila.ip=127.0.0.1",
        f"--port={port}",
        "--show_tracebacks=True",
        # else a busy machine shows the page without what comes 4 s after the cell
        "--VoilaExecutor.iopub_timeout=300",
    ]
    url = f"http://127.0.0.1:{port}"
    # a static file, never the page itself: each visit of that starts a kernel
    with _running(command, place, f"{url}/voila/static/voila.js", root):
        yield Server(url, "", root)


def _as_root():
    return ["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []


def _free_port():
    """Return a port below those that systems give away: no kernel gets it before the server."""
    while True:
        port = random.randint(20_000, 32_000)
        with suppress(OSError), socket.socket() as probe:
            probe.bind(("127.0.0.1", port))
            return port


def _private(place):
    """Return an environment in which the server finds nobody's settings but these."""
    names = ("CONFIG", "DATA", "RUNTIME")
    own = {f"JUPYTER_{name}_DIR": place / name.lower() for name in names}
    own["JUPYTERLAB_SETTINGS_DIR"] = place / "lab_settings"
    own["JUPYTERLAB_WORKSPACES_DIR"] = place / "workspaces"
    own["IPYTHONDIR"] = place / "ipython"
    for folder in own.values():
        folder.mkdir(parents=True, exist_ok=True)
    return {
        **os.environ,
        **{name: str(folder) for name, folder in own.items()},
        "PYTHONPATH": str(_PROJECT),
        "JUPYTER_PLATFORM_DIRS": "1",
        "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


@contextmanager
def _running(command, place, probe, root):
    with open(place / "server.log", "w", encoding="utf-8") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", *command],
            cwd=root,
            env=_private(place),
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait_for(probe, server, place / "server.log")
            yield
        finally:
            server.terminate()
            try:
                server.wait(15)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _wait_for(probe, server, log):
    until = time.monotonic() + _UP_WITHIN
    while time.monotonic() < until and server.poll() is None:
        try:
            with urllib.request.urlopen(probe, timeout=2):
                return
        except urllib.error.HTTPError as error:
            error.close()
            if error.code in (401, 403, 404):
                return  # it answers
        except OSError:
            pass
        time.sleep(0.2)
    raise RuntimeError(f"the server did not come up: {log.read_text(encoding='utf-8')[-2000:]}")
