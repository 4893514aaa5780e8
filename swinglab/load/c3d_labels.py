"""Labels of the points of a C3D file."""

from __future__ import annotations

from swinglab.load.c3d_parameters import Sections


def point_labels(sections: Sections, points: int) -> tuple[str, ...]:
    """Return unique labels of the points of a C3D file, from its parameters LABELS, LABELS2 and so on.

    A point without a label is called point_<number>. A repeated label gets a number (see `unique_labels`). `points` :
    number of points.
    """
    written: list[str] = []
    for number in range(1, 300):
        part = sections.texts("POINT", f"LABELS{number if number > 1 else ''}")
        if not part and number > 1:
            break
        written += part
    surplus = [label for label in written[points:] if label]
    if surplus:
        sections.findings.append(
            f"the file has more labels than points; labels at the end that were not used: {len(surplus)}"
        )
    names = [label or f"point_{k + 1}" for k, label in enumerate(written[:points])]
    unnamed = points - sum(bool(label) for label in written[:points])
    names += [f"point_{k + 1}" for k in range(len(names), points)]
    if unnamed:
        sections.findings.append(
            f"points without a label: {unnamed} of {points}; each is called point_<number>"
        )
    return unique_labels(names, sections.findings)


def unique_labels(names: list[str], findings: list[str]) -> tuple[str, ...]:
    """Return labels without repetition: a number is appended to the second and further occurrences of a label.

    A warning about them is added to `findings`.
    """
    taken, made = set(names), []
    repeated: dict[str, str] = {}  # label -> name of its second point
    seen: dict[str, int] = {}
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        if seen[name] == 1:
            made.append(name)
            continue
        while f"{name}_{seen[name]}" in taken:
            seen[name] += 1
        made.append(f"{name}_{seen[name]}")
        taken.add(made[-1])
        repeated.setdefault(name, made[-1])
    if repeated:
        examples = ", ".join(
            f"the second {label} is called {other}" for label, other in [*repeated.items()][:4]
        )
        findings.append(f"labels that occur at several points: {len(repeated)} ({examples})")
    return tuple(made)
