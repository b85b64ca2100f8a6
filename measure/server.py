"""Starts the pages with settings that keep them private and quiet, and answers their links to photos."""

import os
import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

_PAGE = Path(__file__).parent.parent / "app.py"

_SETTINGS: dict[str, Any] = {
    "runner.magicEnabled": False,  # a bare string in a page is no text to show
    "server.headless": True,
    "server.maxUploadSize": 200,
    "server.showEmailPrompt": False,
    "server.disconnectedSessionTTL": 3600,  # s; a phone whose camera or lock screen was open comes back to its photo
    "browser.gatherUsageStats": False,  # else the browser asks an outside host
    "client.toolbarMode": "minimal",  # no deploy button, no one-letter keys
    "client.showErrorDetails": "none",
    "client.showErrorLinks": False,  # else an error offers to be searched for on the web
    "theme.primaryColor": "#0b6e75",
}

_OF_THE_SITE = {
    "server.baseUrlPath": "STREAMLIT_SERVER_BASE_URL_PATH",
    "server.sslCertFile": "STREAMLIT_SERVER_SSL_CERT_FILE",
    "server.sslKeyFile": "STREAMLIT_SERVER_SSL_KEY_FILE",
}
"""What a site may set in the environment: where the pages lie, and that they are encrypted."""

METHOD_VARIABLE = "EBBLINE_METHOD"
"""Environment variable that tells the pages what proposes outlines."""

DATA_VARIABLE = "EBBLINE_DATA"
"""Environment variable that tells the pages where the record is; they keep none where it is not set."""

_PRIVATE = {
    "Cache-Control": "private, no-store",  # a tablet is shared: no photo stays in its browser's files
    "Content-Disposition": "inline",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


def serve(port: int, host: str, method: str, data: str | None = None) -> None:
    """Serve the pages until interrupted; ends the process where the port is taken.

    Parameters
    ----------
    port : int
        Where they answer.
    host : str
        Address to listen on.
    method : str
        What proposes outlines, as in `measure.proposal.propose_outlines`.
    data : str, optional
        Where the record is, as in `measure.record.store.open_record`; without it the pages keep none.
    """
    import streamlit as st  # noqa: PLC0415 - half a second that only the pages need
    from starlette.routing import Route  # noqa: PLC0415 - the same

    os.environ[METHOD_VARIABLE] = method
    os.environ.pop(DATA_VARIABLE, None)
    if data:
        os.environ[DATA_VARIABLE] = data
    sys.argv = [str(_PAGE)]  # beside it the settings of a site are looked for
    # the base path is known only once the server has read its settings
    routes = [Route(f"{base}/photo/{{name}}/{{size}}.jpg", show_photo) for base in ("", "/{base:path}")]
    site = {name: os.environ[variable] for name, variable in _OF_THE_SITE.items() if variable in os.environ}
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends as Ctrl+C does, in order
    with suppress(KeyboardInterrupt):
        st.App(_PAGE, routes=routes).run(config=_SETTINGS | site | {"server.port": port, "server.address": host})


async def show_photo(request: "Request") -> "Response":
    """Answer a link that `measure.kept_photos` made with the picture, any other with a sentence."""
    from starlette.responses import PlainTextResponse, Response  # noqa: PLC0415 - only the pages need it

    from measure.kept_photos import KEPT, PhotoLinkError  # noqa: PLC0415 - Streamlit loads changed files anew

    name, size = request.path_params["name"], request.path_params["size"]
    try:
        picture = KEPT.picture(name, size, request.query_params.get("signature", ""))
    except PhotoLinkError as error:
        return PlainTextResponse(str(error), error.status, _PRIVATE)
    return Response(picture, headers=_PRIVATE, media_type="image/jpeg")
