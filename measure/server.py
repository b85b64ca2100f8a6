"""Starts the pages with settings that keep them private and quiet."""

import sys
from pathlib import Path

_PAGE = Path(__file__).parent.parent / "app.py"

_SETTINGS = {
    "runner.magicEnabled": "false",  # a bare string in a page is no text to show
    "server.headless": "true",
    "server.maxUploadSize": "200",
    "server.showEmailPrompt": "false",
    "browser.gatherUsageStats": "false",  # else the browser asks an outside host
    "client.toolbarMode": "minimal",  # no deploy button, no one-letter keys
    "client.showErrorDetails": "none",
    "client.showErrorLinks": "false",  # else an error offers to be searched for on the web
    "theme.primaryColor": "#0b6e75",
}


def serve(port: int, host: str) -> None:
    """Serve the pages until interrupted; ends the process.

    Parameters
    ----------
    port : int
        Where they answer.
    host : str
        Address to listen on.
    """
    from streamlit.web import cli  # noqa: PLC0415 - half a second that only the pages need

    settings = _SETTINGS | {"server.port": str(port), "server.address": host}
    sys.argv = ["streamlit", "run", str(_PAGE), *(f"--{name}={value}" for name, value in settings.items())]
    cli.main(prog_name="streamlit")
