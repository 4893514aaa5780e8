"""Findings from estimates: each method's estimate becomes one `Finding`, a line of the answer to a question."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace

from swinglab.finding_words import Note, method_words
from swinglab.records import Finding
from swinglab.statistics.estimate import Estimate

#: An estimate without numbers, for a method that could not be used.
NO_NUMBER = Estimate()


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """Fields common to all findings of one question: name, quantities, unit and smallest effect that matters.

    kind : "hunch", "comparison" or "lesson". per : what an estimate refers to, such as "10 deg of pelvis
    flexion" or "B against A". adjusted_for : covariates. The other fields are those of `Finding`.
    """

    name: str
    kind: str
    outcome: str
    predictor: str
    event: str
    unit: str
    per: str
    smallest_effect: float | None = None
    adjusted_for: tuple[str, ...] = ()

    def line(
        self,
        level: str,
        method: Note,
        estimate: Estimate,
        *,
        n_golfers: int,
        n_swings: int,
        warnings: Iterable[Note] = (),
        correction: str = "",
        placement_deg: float = float("nan"),
        adjusted_for: Sequence[str] | None = None,
        named: Sequence[str] | None = None,
        golfer: object = "",
        unit: str | None = None,
    ) -> Finding:
        """Return one method's estimate as a `Finding`, with the role of a supplementary method.

        `named` : covariates that the text of the method lists, if they differ from `adjusted_for`. If `unit` differs
        from the unit of the question, as for log odds, the finding has no smallest effect.
        """
        own_unit = unit is None or unit == self.unit
        known = tuple(self.adjusted_for if adjusted_for is None else adjusted_for)
        made = Finding(
            name=self.name, kind=self.kind, level=level, role="beside", outcome=self.outcome,
            predictor=self.predictor, event=self.event, p_adjusted=float("nan"),
            unit=self.unit if unit is None else unit, per=self.per,
            method=method_words(
                method, adjusted_for=known if named is None else named, placement_deg=placement_deg,
                correction=correction,
            ),
            method_key=method.key, n_golfers=int(n_golfers), n_swings=int(n_swings),
            smallest_effect=self.smallest_effect if own_unit and self.smallest_effect else float("nan"),
            correction=correction, placement_deg=placement_deg, adjusted_for=known, golfer=str(golfer),
            **{item.name: getattr(estimate, item.name) for item in fields(Estimate)},
        )  # fmt: skip
        return warned(made, warnings)


def warned(line: Finding, notes: Iterable[Note]) -> Finding:
    """Return a copy of the finding with further warnings."""
    notes = tuple(notes)
    return replace(
        line, warnings=(*line.warnings, *notes), warning_keys=(*line.warning_keys, *(n.key for n in notes))
    )


def without_warnings(line: Finding, notes: Iterable[Note]) -> Finding:
    """Return a copy of the finding without these warnings; used if another finding already shows them."""
    gone = {(str(note), note.key) for note in notes}
    kept = [
        pair
        for pair in zip(line.warnings, line.warning_keys, strict=True)
        if (str(pair[0]), pair[1]) not in gone
    ]
    return replace(line, warnings=tuple(w for w, _ in kept), warning_keys=tuple(k for _, k in kept))


def judged(line: Finding, *, reading: Note | None = None) -> Finding:
    """Return a copy of the finding with the role "default": the primary method, from which a conclusion is drawn.

    `reading` : the conclusion; if omitted, it is drawn later by `judging.judge`.
    """
    return (
        replace(line, role="default") if reading is None else read_as(replace(line, role="default"), reading)
    )


def read_as(line: Finding, reading: Note) -> Finding:
    """Return a copy of the finding with this conclusion (reading)."""
    return replace(line, reading=str(reading), reading_key=reading.key)
