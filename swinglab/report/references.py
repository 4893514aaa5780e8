"""The references that a text cites, from references/references.bib."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from swinglab.shipped import shipped_folder

_ENTRY = re.compile(r"@(\w+)\{([\w:-]+),(.*?)\}\s*(?=@|%|\Z)", re.DOTALL)
_FIELD = re.compile(r"(\w+)\s*=\s*\{((?:[^{}]|\{(?:[^{}]|\{[^{}]*\})*\})*)\}")
#: "Wu et al. 2002", "Grood & Suntay 1983", "Winter 2009", and further years after a comma.
_CITED = re.compile(r"((?:de )?[A-Z][\w-]+(?: et al\.| & [A-Z][\w-]+)?) ((?:19|20)\d\d(?:, (?:19|20)\d\d)*)")


class Reference(NamedTuple):
    """A published source: its key in references.bib, its citation in a sentence, and its line in the reference list."""

    key: str
    cited: str
    text: str


def read_references(path: Path | None = None) -> tuple[Reference, ...]:
    """Return all sources in references.bib, in the order of the file.

    path : another file in this format, by default that of swinglab.
    """
    path = path or shipped_folder("references") / "references.bib"
    bare = "\n".join(
        line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("%")
    )
    return tuple(_reference(key, _fields(body)) for _, key, body in _ENTRY.findall(bare + "\n@"))


def _fields(body: str) -> dict[str, str]:
    return {name: _plain(value) for name, value in _FIELD.findall(body + "}")}


def _plain(text: str) -> str:
    return text.replace("\\&", "&").replace("--", "–").replace("{", "").replace("}", "").strip()


def _reference(key: str, fields: dict[str, str]) -> Reference:
    names = [name.split(",")[0].strip() for name in fields.get("author", "").split(" and ")]
    year = fields.get("year", "")
    who = f"{names[0]} et al." if len(names) > 2 or "others" in names else " & ".join(names)
    authors = fields.get("author", "").replace(" and others", ", et al.").replace(" and ", "; ")
    numbers = fields.get("volume", "") + (f"({fields['number']})" if "number" in fields else "")
    pages = f": {fields['pages']}" if "pages" in fields else ""
    where = fields.get("journal") or fields.get("booktitle") or fields.get("publisher") or ""
    place = f"{where} {numbers}".strip() + pages
    doi = f" doi: {fields['doi']}." if "doi" in fields else ""
    check = " (Details from memory: check before citing.)" if "memory" in fields.get("note", "") else ""
    text = f"{authors} ({year}). {fields.get('title', '')}. {place}.{doi}{check}".replace("..", ".")
    return Reference(key, f"{who} {year}", text)


def cited_in(*texts: str) -> tuple[list[Reference], list[str]]:
    """Return the sources that these texts cite, sorted by author, and the citations that are not in references.bib."""
    known = {reference.cited: reference for reference in read_references()}
    # Method names are short and cite the first author alone.
    known |= {cited.replace(" et al.", ""): reference for cited, reference in known.items()}
    cited = {
        f"{who} {year}" for text in texts for who, years in _CITED.findall(text) for year in years.split(", ")
    }
    found = [known[name] for name in cited if name in known]
    return sorted(set(found), key=lambda r: r.text), sorted(name for name in cited if name not in known)
