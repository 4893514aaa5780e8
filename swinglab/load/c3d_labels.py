"""Labels of the points of a C3D file."""

from __future__ import annotations

from swinglab.load.c3d_parameters import Sections


def point_labels(sections: Sections, points: int) -> tuple[str, ...]:
    """Return unique labels of the points of a C3D file, from its parameters LABELS, LABELS2 and so on.

    Points without a label are called point_1, point_2 and so on. `points` : number of points.
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
            f"the file has {len(surplus)} labels more than points; the last ones were not used"
        )
    names = [label or f"point_{k + 1}" for k, label in enumerate(written[:points])]
    unnamed = points - sum(bool(label) for label in written[:points])
    names += [f"point_{k + 1}" for k in range(len(names), points)]
    if unnamed:
        sections.findings.append(
            f"{unnamed} of {points} points have no label; they are called point_1, point_2, ..."
        )
    return unique_labels(names, sections.findings)


def unique_labels(names: list[str], findings: list[str]) -> tuple[str, ...]:
    """Return labels in which repeated ones have a number appended; a warning is then added to `findings`."""
    taken, made, repeated = set(names), [], []
    seen: dict[str, int] = {}
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        if seen[name] == 1:
            made.append(name)
            continue
        repeated.append(name)
        while f"{name}_{seen[name]}" in taken:
            seen[name] += 1
        made.append(f"{name}_{seen[name]}")
        taken.add(made[-1])
    if repeated:
        first = list(dict.fromkeys(repeated))
        findings.append(
            f"{len(first)} labels occur at several points ({', '.join(first[:4])}); "
            f"the further points are called {made[names.index(first[0])]}_2 and so on"
        )
    return tuple(made)
