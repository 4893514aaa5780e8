"""HTML templates of the report, in which all text from data is escaped."""

from __future__ import annotations

import base64
import hashlib
import re

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from swinglab.report import wording


def template(name: str) -> Template:
    """Return the HTML template of the report (a jinja2 template) with this file name."""
    environment = Environment(
        loader=PackageLoader("swinglab.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.globals["wording"] = wording
    return environment.get_template(name)


_SCRIPT = re.compile(r"<script(?: type=\"module\")?>(.*?)</script>", re.DOTALL)
_CHARSET = '<meta charset="utf-8">'


def with_policy(page: str) -> str:
    """Return an HTML page with a content security policy added.

    Only the page's own scripts run, identified by their hashes. The page can load and send nothing.
    """
    hashes = [
        base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
        for script in _SCRIPT.findall(page)
    ]
    scripts = " ".join(f"'sha256-{value}'" for value in hashes) or "'none'"
    policy = (
        f"default-src 'none'; script-src {scripts}; style-src 'unsafe-inline'; img-src data: blob:; "
        "media-src blob:; base-uri 'none'; form-action 'none'"
    )
    return page.replace(
        _CHARSET, f'{_CHARSET}\n<meta http-equiv="Content-Security-Policy" content="{policy}">', 1
    )
