"""The page of a session, served only to this computer, at an address that cannot be guessed."""

from __future__ import annotations

import json
import secrets
import signal
import sys
import threading
from collections.abc import Callable
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from typing import Any

from swinglab.errors import SwinglabError
from swinglab.figures.viewer import viewer_element
from swinglab.figures.viewer.page import viewer_script, viewer_style
from swinglab.watch.keys import KEYS
from swinglab.watch.session import RangeSession
from swinglab.watch.view import last_frames, season_of, view_of

#: Seconds between two searches for new captures.
POLL_S = 0.4
HOST = "127.0.0.1"
_LONGEST_BODY = 1_000
#: Seconds until a connection that sends nothing, or less than it announced, is closed.
_PATIENCE_S = 30.0
#: Content security policy: the page loads nothing from a network and sends requests only to this server.
_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; connect-src 'self'; "
    "img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class _QuietServer(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: object, client_address: object) -> None:
        """Handle an exception raised while a request was served: ignore lost connections, print any other exception."""
        if not isinstance(sys.exception(), ConnectionError):
            super().handle_error(request, client_address)  # type: ignore[arg-type]


class SessionServer:
    """HTTP server of a session's page; open `address` in a browser.

    Parameters
    ----------
    session : RangeSession
    port : int
        Port number; 0 chooses a free one.
    """

    def __init__(self, session: RangeSession, *, port: int = 0) -> None:
        self.session = session
        self._token = secrets.token_urlsafe(16)
        self._stop = threading.Event()
        self._http = _QuietServer((HOST, port), _handler(session, self._token))
        self.address = f"http://{HOST}:{self._http.server_address[1]}/{self._token}/"

    def start(self) -> None:
        """Start two threads, one that serves the page and one that watches for captures, and return at once."""
        for work in (self._http.serve_forever, self._watch):
            threading.Thread(target=work, daemon=True).start()

    def stop(self) -> None:
        """Stop watching for captures and serving the page, and write results that are not written yet."""
        self._stop.set()
        self._http.shutdown()
        self._http.server_close()
        self.session.close()

    def wait(self) -> None:
        """Block until `stop` is called or the process is interrupted (Ctrl-C)."""
        while not self._stop.wait(1.0):
            pass

    def _watch(self) -> None:
        while not self._stop.wait(POLL_S):
            try:
                self.session.poll()
            except Exception as fault:  # a full disk, or a fault in the kit's code, must not end the session
                self.session.report(f"{type(fault).__name__}: {fault}" if _is_own(fault) else str(fault))


def _is_own(fault: Exception) -> bool:
    """Return whether an exception is unexpected (a fault in swinglab's code), so that its type is reported too."""
    return not isinstance(fault, SwinglabError | OSError)


def serve_session(
    session: RangeSession, *, port: int = 0, opened: Callable[[str], object] | None = None
) -> None:
    """Serve the page of a session until the process is interrupted (Ctrl-C) or receives SIGTERM.

    Call it from the main thread, because only this thread receives signals.

    Parameters
    ----------
    session : RangeSession
    port : int
        Port number; 0 chooses a free one.
    opened : callable, optional
        Called once with the page's address, when the page can be opened.
    """
    server = SessionServer(session, port=port)
    # A terminal that closes and a computer that shuts down end the session as Ctrl-C does: its results are written.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    server.start()
    if opened:
        opened(server.address)
    try:
        server.wait()
    except KeyboardInterrupt:
        pass
    finally:
        server.stop()


def page_html() -> str:
    """Return the HTML of a session's page; data of the session are inserted later as text, never as HTML."""
    room = files("swinglab.watch").joinpath("page")
    html, style, script = (
        room.joinpath(name).read_text(encoding="utf-8") for name in ("page.html", "page.css", "page.js")
    )
    words = json.dumps(KEYS)
    return (
        html.replace("/*STYLE*/", style)
        .replace("<!--VIEWER-->", _viewer())
        .replace("/*SCRIPT*/", script)
        .replace("/*KEYS*/", words)
    )


def _viewer() -> str:
    """Return style and script of the swing viewer, which the page calls for every new swing."""
    script = f"{viewer_script()}\nwindow.swinglabMount = mountFromPage;"
    return f'<style>{viewer_style()}</style>\n<script type="module">{script}</script>'


def _handler(session: RangeSession, token: str) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        server_version, sys_version = "swinglab", ""
        protocol_version = "HTTP/1.1"
        timeout = _PATIENCE_S

        def do_GET(self) -> None:
            place = _place(self, token)
            if place == "":
                self._send(page_html(), "text/html; charset=utf-8")
            elif place == "state":
                self._send_json(view_of(session))
            elif place == "season":
                self._send_json(season_of(session))
            elif place == "swing":
                self._send_json({"element": _element(session)})
            else:
                self._send("not here", "text/plain", HTTPStatus.NOT_FOUND)

        def do_POST(self) -> None:
            length = _length(self.headers.get("Content-Length", "0"))
            if _place(self, token) != "key" or length > _LONGEST_BODY:
                self._send("not here", "text/plain", HTTPStatus.NOT_FOUND)
                return
            try:
                key = str(json.loads(self.rfile.read(length))["key"])
            except (ValueError, KeyError, TypeError, RecursionError):
                self._send("no key", "text/plain", HTTPStatus.BAD_REQUEST)
                return
            session.press(key)
            self._send_json(view_of(session))

        def _send_json(self, value: dict[str, Any]) -> None:
            self._send(json.dumps(value, allow_nan=False), "application/json")

        def _send(self, text: str, kind: str, status: HTTPStatus = HTTPStatus.OK) -> None:
            body = text.encode("utf-8")
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("Content-Security-Policy", _POLICY)
            self.send_header("Referrer-Policy", "no-referrer")
            self.send_header("X-Content-Type-Options", "nosniff")
            if status != HTTPStatus.OK:  # unread data of this request must not be read as the next request
                self.send_header("Connection", "close")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            """Do not print requests on the console, unlike the base class."""

    return Handler


def _place(request: BaseHTTPRequestHandler, token: str) -> str | None:
    """Return the requested part of the page; None without the token or with another host name."""
    host, start = request.headers.get("Host", ""), f"/{token}/"
    if host.rsplit(":", 1)[0] not in (HOST, "localhost") or not request.path.startswith(start):
        return None
    return request.path.removeprefix(start).split("?", 1)[0]


def _length(text: str) -> int:
    """Return the length in bytes that a request announces; a length above the limit if it is not a valid number."""
    return int(text) if text.isdecimal() and len(text) < 6 else _LONGEST_BODY + 1


def _element(session: RangeSession) -> str:
    frames = last_frames(session)
    event = session.number.event
    return viewer_element(frames, align=event, start=event) if frames else ""
