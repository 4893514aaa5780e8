"""Templates in which everything that comes from data is escaped."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from swinglab.report import wording


def template(name: str) -> Template:
    """A template of the report, by its file name."""
    environment = Environment(
        loader=PackageLoader("swinglab.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.globals["wording"] = wording
    return environment.get_template(name)
