"""Every method of swinglab.statistics beside R, by hand (R and the packages named in against_r.R must be there):

    python tests/calibration/against_r.py 240            # made golf sets and R's own data sets, a table
    python tests/calibration/against_r.py --freeze       # small made sets, answers kept in tests/against_other

A job is a question put to both sides about one table; the largest difference of each answer is listed, relative to
the answer's own size (to the standard error for estimates, which may be near 0).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import statistics as st
from swinglab.errors import SwinglabError

HERE = Path(__file__).parent
FROZEN = HERE.parent / "against_other" / "answers_of_r.json"
FROZEN_SEEDS = (3, 14, 15, 92, 65, 35)
CONTACTS = ["fat", "clean", "thin"]
WORDS = ["sex", "club"]


def golf_set(seed: int, *, small: bool = False) -> pd.DataFrame:
    """Made swings: unequal numbers, slopes that differ little or not, wild units, sessions, gaps, missing values."""
    rng = np.random.default_rng([20261125, seed])
    golfers = int(rng.integers(6, 11)) if small else int(rng.integers(4, 25))
    most = 9 if small else int(rng.integers(6, 41))
    number = rng.integers(3, most, golfers)
    if seed % 4 == 0:
        number[0] = 1
    golfer = np.repeat(np.arange(golfers), number)
    n = len(golfer)
    place = np.concatenate([np.arange(k) for k in number])
    session = place * int(rng.integers(2, 4)) // np.maximum(number[golfer], 1)
    tilt = rng.normal(20, 5, golfers)[golfer] + rng.normal(0, 3, n)
    speed = rng.normal(38, 2, golfers)[golfer] + rng.normal(0, 0.7, n)
    slope = rng.normal(0.2, rng.choice([0.0, 0.02, 0.1, 0.3]), golfers)
    own = rng.normal(0, rng.choice([0.0, 0.3, 1.0, 2.0]), golfers)
    visit = rng.normal(0, rng.choice([0.0, 0.5]), (golfers, 4))[golfer, session]
    sex = np.where(rng.permutation(golfers) % 2, "male", "female")[golfer]
    club = rng.choice(["driver", "iron", "wedge"], n)
    latent = (
        own[golfer] + slope[golfer] * (tilt - 20) + visit + 0.4 * (club == "iron") + 0.5 * (sex == "male")
    )
    table = pd.DataFrame(
        {
            "golfer": golfer + 1,
            "session": session + 1,
            "order": place + 1 + (place > 4) * (seed % 3),
            "tilt": tilt * 10.0 ** rng.integers(-4, 5) + rng.choice([0.0, 0.0, 500.0]),
            "speed": speed,
            "nearly": tilt + rng.normal(0, 0.05, n),
            "sex": sex,
            "club": club,
            "angle": (latent - 4 + rng.normal(0, 1, n)) * 10.0 ** rng.integers(-5, 6),
            "contact": np.array(CONTACTS)[np.searchsorted([-1.0, 1.4], latent + rng.logistic(size=n))],
            "clean": (latent + rng.logistic(size=n) > 0).astype(int),
        }
    )
    if seed % 3 == 0 and not small:
        table.loc[rng.random(n) < 0.05, "tilt"] = np.nan
        table.loc[rng.random(n) < 0.05, "angle"] = np.nan
    return table


def standardised(table: pd.DataFrame) -> pd.DataFrame:
    """The same swings in units that R's own programs bear: its arithmetic fails on the wild ones."""
    names = ["tilt", "speed", "nearly", "angle"]
    return table.assign(**{name: (table[name] - table[name].mean()) / table[name].std() for name in names})


def golf_jobs(seed: int) -> Iterator[dict]:
    """The questions put to one made set."""
    one = {"outcome": "angle", "text": WORDS}
    slope = {**one, "predictors": ["tilt", "sex"], "slopes": ["tilt"]}
    yield {"ask": "mixed", **slope}
    yield {"ask": "mixed", **slope, "method": "ML"}
    yield {"ask": "mixed", **one, "predictors": ["tilt", "club", "speed"], "slopes": [], "method": "REML"}
    yield {"ask": "mixed", **one, "predictors": ["tilt"], "slopes": ["tilt"], "session": "session"}
    yield {"ask": "mixed", **one, "predictors": ["speed", "nearly"], "slopes": ["speed"]}
    yield {"ask": "clustered", **one, "predictors": ["tilt", "sex", "club"]}
    yield {"ask": "clustered", **one, "predictors": ["speed", "nearly"]}
    yield {"ask": "golfer_means", **one, "predictors": ["tilt", "sex"]}
    yield {"ask": "two_groups", "value": "angle", "between": "sex", "text": WORDS}
    yield {"ask": "adjusted", **one, "covariate": "speed", "between": "club"}
    yield {"ask": "one_way", "value": "angle"}
    yield {"ask": "yes_or_no", "outcome": "clean", "predictors": ["speed", "sex"], "text": WORDS}
    yield {"ask": "ordered_outcome", "outcome": "contact", "predictors": ["speed", "sex"], "levels": CONTACTS,
           "text": WORDS}  # fmt: skip
    yield {"ask": "wild", **one, "predictors": ["tilt", "speed"], "term": "tilt", "only": "few"}


def series_jobs(seed: int) -> tuple[pd.DataFrame, list[dict]]:
    """A made series of one golfer, with AR(1) errors, gaps and sessions, and the questions put to it."""
    rng = np.random.default_rng([7, seed])
    n, rho = int(rng.integers(15, 80)), float(rng.choice([-0.3, 0.0, 0.3, 0.6, 0.8]))
    error = np.zeros(n)
    for i in range(n):
        error[i] = (rho * error[i - 1] if i else 0.0) + rng.normal() * (np.sqrt(1 - rho**2) if i else 1.0)
    table = pd.DataFrame({"order": np.arange(1, n + 1), "tilt": rng.normal(20, 3, n), "golfer": 1})
    table["after"] = (table["order"] > n // 2).astype(int)
    table["angle"] = (-4 + 0.2 * table["tilt"] + 0.5 * table["after"] + error) * 10.0 ** rng.integers(-3, 4)
    table["session"] = table["order"] * 3 // (n + 1) + 1
    table["trend"] = table["order"]
    kept = table[rng.random(n) > 0.15] if seed % 2 else table
    kept = kept.assign(trend=kept["order"] - kept["order"].mean())
    one = {"ask": "series", "outcome": "angle", "order": "order"}
    return kept, [
        {**one, "predictors": ["tilt", "trend"]},
        {**one, "predictors": ["after"]},
        {**one, "predictors": ["tilt"], "session": "session"},
    ]


def vector_jobs(seed: int) -> list[tuple[pd.DataFrame | None, dict]]:
    """Questions that take lists of numbers."""
    rng = np.random.default_rng([8, seed])
    n = int(rng.integers(3, 15))
    a = rng.normal(0, 5, n)
    pairs = pd.DataFrame({"a": a, "b": a + rng.normal(0.5, 1, n)})
    flips = pd.DataFrame(
        {"difference": np.round(rng.normal(0.7, 1, int(rng.integers(3, 14))), int(rng.integers(1, 5)))}
    )
    power = {"golfers_per_group": int(rng.integers(2, 40)), "swings": int(rng.integers(1, 40)), "between_sd": 2.0,
             "within_sd": float(rng.uniform(0, 5)), "difference": float(rng.uniform(0.2, 4))}  # fmt: skip
    p = np.round(rng.random(int(rng.integers(1, 12))) ** 3, 3).tolist()
    return [(pairs, {"ask": "two_methods"}), (flips, {"ask": "paired_signs"}), (None, {"ask": "chances", **power}),
            (None, {"ask": "adjusted_p", "p": p})]  # fmt: skip


def own_jobs() -> Iterator[dict]:
    """Questions on data sets that R and its packages carry; nothing of them is kept here."""
    mixed = [
        ("lme4::sleepstudy", "Subject", "Reaction", ["Days"], ["Days"], None),
        ("lme4::Dyestuff", "Batch", "Yield", [], [], None),
        ("lme4::Dyestuff2", "Batch", "Yield", [], [], None),
        ("lme4::Pastes", "batch", "strength", [], [], "cask"),
        ("lme4::Pastes", "batch", "strength", [], [], None),
        ("lme4::Penicillin", "plate", "diameter", ["sample"], [], None),
        ("lme4::cake", "replicate", "angle", ["recipe", "temp"], [], "recipe"),
        ("lme4::cake", "replicate", "angle", ["recipe", "temp"], ["temp"], None),
        ("lme4::Arabidopsis", "popu", "total.fruits", ["nutrient", "amd"], ["nutrient"], "gen"),
        ("nlme::Orthodont", "Subject", "distance", ["age", "Sex"], ["age"], None),
        ("nlme::Oats", "Block", "yield", ["nitro", "Variety"], [], "Variety"),
        ("nlme::Oats", "Block", "yield", ["nitro"], ["nitro"], "Variety"),
        ("nlme::Rail", "Rail", "travel", [], [], None),
        ("nlme::Machines", "Worker", "score", ["Machine"], [], "Machine"),
        ("nlme::Machines", "Worker", "score", ["Machine"], [], None),
        ("nlme::BodyWeight", "Rat", "weight", ["Time", "Diet"], ["Time"], None),
        ("nlme::Dialyzer", "Subject", "rate", ["pressure", "QB"], ["pressure"], None),
        ("nlme::Pixel", "Dog", "pixel", ["day"], ["day"], "Side"),
        ("nlme::Oxboys", "Subject", "height", ["age"], ["age"], None),
        ("nlme::Wafer", "Wafer", "current", ["voltage"], ["voltage"], "Site"),
        ("nlme::Assay", "Block", "logDens", ["sample", "dilut"], [], None),
        ("nlme::Milk", "Cow", "protein", ["Time", "Diet"], ["Time"], None),
        ("nlme::Glucose2", "Subject", "glucose", ["Time"], ["Time"], "Date"),
        ("nlme::Gasoline", "Sample", "yield", ["endpoint", "vapor"], [], None),
        ("nlme::ergoStool", "Subject", "effort", ["Type"], [], None),
        ("nlme::Oxide", "Lot", "Thickness", ["Source"], [], "Wafer"),
        ("nlme::RatPupWeight", "Litter", "weight", ["Treatment", "sex", "Lsize"], [], None),
        ("nlme::Fatigue", "Path", "relLength", ["cycles"], ["cycles"], None),
        ("nlme::IGF", "Lot", "conc", ["age"], ["age"], None),
        ("nlme::Earthquake", "Quake", "accel", ["distance", "Richter"], ["distance"], None),
        ("nlme::Meat", "Block", "score", ["Storage"], [], "Pair"),
        ("nlme::MathAchieve", "School", "MathAch", ["SES", "MEANSES", "Sex"], ["SES"], None),
        ("nlme::bdf", "schoolNR", "langPOST", ["IQ.verb", "sex"], ["IQ.verb"], None),
        ("datasets::ChickWeight", "Chick", "weight", ["Time", "Diet"], ["Time"], None),
        ("datasets::Orange", "Tree", "circumference", ["age"], ["age"], None),
        ("datasets::Loblolly", "Seed", "height", ["age"], ["age"], None),
        ("datasets::CO2", "Plant", "uptake", ["conc", "Type", "Treatment"], [], None),
        ("lmerTest::carrots", "Consumer", "Preference", ["sens1", "sens2"], ["sens1", "sens2"], None),
        ("lmerTest::ham", "Consumer", "Informed.liking", ["Product", "Information"], [], "Product"),
        ("pbkrtest::beets", "block", "sugpct", ["harvest", "sow"], [], "harvest"),
        ("geepack::dietox", "Pig", "Weight", ["Time", "Cu"], ["Time"], None),
        ("geepack::sitka89", "tree", "size", ["time"], ["time"], None),
        ("carData::Blackmore", "subject", "exercise", ["age", "group"], ["age"], None),
        ("carData::OBrienKaiserLong", "id", "score", ["treatment", "phase", "hour"], [], "phase"),
    ]
    words = {"recipe", "amd", "Variety", "Machine", "sample", "Type", "Treatment", "sex", "Sex", "Cu", "harvest", "sow",
             "group", "phase", "treatment", "Product", "Information", "Source", "Minority"}  # fmt: skip
    diets = {"nlme::BodyWeight", "datasets::ChickWeight", "nlme::Milk"}
    for name, golfer, outcome, predictors, slopes, session in mixed:
        text = [p for p in predictors if p in words or (p == "Diet" and name in diets) or p in ("QB",)]
        one = {"set": name, "golfer": golfer, "outcome": outcome, "predictors": predictors, "text": text}
        for method in ("REML", "ML"):
            yield {**one, "ask": "mixed", "slopes": slopes, "method": method,
                   **({"session": session} if session else {})}  # fmt: skip
        if predictors and session is None:
            yield {**one, "ask": "clustered"}
        if not predictors:
            yield {"ask": "one_way", "set": name, "golfer": golfer, "value": outcome}
    yield from _other_own_jobs()


def _other_own_jobs() -> Iterator[dict]:
    rates = {
        "set": "clubSandwich::MortalityRates",
        "golfer": "state",
        "outcome": "mrate",
        "predictors": ["legal", "beertaxa"],
    }
    yield {"ask": "clustered", **rates, "where": {"cause": ["Motor Vehicle"]}}
    yield {"ask": "clustered", "set": "clubSandwich::AchievementAwardsRCT", "golfer": "school_id", "text": ["sex"],
           "outcome": "lagscore", "predictors": ["treated", "sex", "siblings"]}  # fmt: skip
    yield {"ask": "clustered", "set": "clubSandwich::dropoutPrevention", "golfer": "studyID", "text": ["study_design"],
           "outcome": "LOR1", "predictors": ["study_design", "attrition", "average_age"]}  # fmt: skip
    wine = {"ask": "ordered_outcome", "set": "ordinal::wine", "golfer": "judge", "outcome": "rating",
            "levels": ["1", "2", "3", "4", "5"], "text": ["temp", "contact"]}  # fmt: skip
    yield {**wine, "predictors": ["temp", "contact"]}
    yield {**wine, "predictors": ["temp"]}
    yield {"ask": "ordered_outcome", "set": "ordinal::soup", "golfer": "RESP", "outcome": "SURENESS",
           "levels": ["1", "2", "3", "4", "5", "6"], "predictors": ["PROD"], "text": ["PROD"]}  # fmt: skip
    yield {"ask": "ordered_outcome", "set": "geepack::koch", "golfer": "id", "outcome": "y",
           "levels": ["0", "1", "2", "3"], "predictors": ["trt", "day"]}  # fmt: skip
    yield {
        "ask": "yes_or_no",
        "set": "geepack::ohio",
        "golfer": "id",
        "outcome": "resp",
        "predictors": ["age", "smoke"],
    }
    yield {"ask": "yes_or_no", "set": "geepack::respiratory", "golfer": "id", "outcome": "outcome",
           "text": ["treat", "sex"], "where": {"center": ["1"]},
           "predictors": ["treat", "sex", "age", "baseline"]}  # fmt: skip
    for mare in ("1", "4", "11"):
        yield {"ask": "series", "set": "nlme::Ovary", "golfer": "Mare", "where": {"Mare": [mare]},
               "outcome": "follicles", "predictors": ["Time"], "order": "Time"}  # fmt: skip
    yield {"ask": "series", "set": "nlme::BodyWeight", "golfer": "Rat", "where": {"Rat": ["2"]},
           "outcome": "weight", "predictors": ["Time"], "order": "Time"}  # fmt: skip
    yield {"ask": "series", "set": "nlme::Dialyzer", "golfer": "Subject", "where": {"Subject": ["5"]},
           "outcome": "rate", "predictors": ["pressure"], "order": "index"}  # fmt: skip
    yield {"ask": "series", "set": "nlme::Milk", "golfer": "Cow", "where": {"Cow": ["B01"]},
           "outcome": "protein", "predictors": ["Time"], "order": "Time"}  # fmt: skip
    for name, golfer, value, between, where in (
        ("nlme::Orthodont", "Subject", "distance", "Sex", {}),
        ("nlme::BodyWeight", "Rat", "weight", "Diet", {"Diet": ["1", "2"]}),
        ("datasets::CO2", "Plant", "uptake", "Treatment", {}),
        ("nlme::Milk", "Cow", "protein", "Diet", {"Diet": ["barley", "lupins"]}),
    ):
        yield {"ask": "two_groups", "set": name, "golfer": golfer, "value": value, "between": between,
               "text": [between], "where": where}  # fmt: skip
    for name, outcome, covariate, between in (
        ("datasets::mtcars", "mpg", "wt", "cyl"), ("datasets::CO2", "uptake", "conc", "Type"),
        ("datasets::iris", "Sepal.Length", "Sepal.Width", "Species"),
        ("carData::Salaries", "salary", "yrs.service", "rank"),
    ):  # fmt: skip
        yield {"ask": "adjusted", "set": name, "outcome": outcome, "covariate": covariate, "between": between,
               "text": [between]}  # fmt: skip


Answer = dict[str, object]


def _mixed(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.fit_mixed(
        table, job["outcome"], job["predictors"], golfer="golfer", slopes=job["slopes"],
        method=job.get("method", "REML"), session=job.get("session"),
    )  # fmt: skip
    found = {**_columns(fit.coefficients), "criterion": fit.criterion, "log_likelihood": fit.log_likelihood,
             "residual_variance": fit.residual_variance, "random_covariance": fit.random_covariance.to_numpy(),
             "boundary": fit.boundary}  # fmt: skip
    if "session" in job:
        found["session_variance"] = fit.session_variance
    return found


def _columns(coefficients: pd.DataFrame) -> Answer:
    return {
        name: coefficients[name].to_numpy() for name in coefficients if coefficients[name].dtype.kind == "f"
    }


def _clustered(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.fit_cluster_robust(table, job["outcome"], job["predictors"], golfer="golfer")
    found = _columns(fit.coefficients)
    if len(fit.coefficients) > 2:
        try:
            joint = fit.joint_test(job["predictors"])
            found["joint"] = {"F": joint.F, "df1": joint.df1, "df2": joint.df2, "p": joint.p}
        except SwinglabError:
            found["joint_refused"] = True
    return found


def _golfer_means(job: dict, table: pd.DataFrame) -> Answer:
    return _columns(
        st.fit_golfer_means(table, job["outcome"], job["predictors"], golfer="golfer").coefficients
    )


def _two_groups(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.compare_means(table, job["value"], between=job["between"], golfer="golfer")
    names = (
        "difference",
        "standard_error",
        "df",
        "t",
        "p",
        "ci_low",
        "ci_high",
        "hedges_g",
        "hedges_g_low",
        "hedges_g_high",
    )
    found: Answer = {name: getattr(fit, name) for name in names}
    if fit.permutation_exact:
        found["permutation_p"] = fit.permutation_p
    return found


def _adjusted(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.compare_adjusted(table, job["outcome"], covariate=job["covariate"], between=job["between"])
    return {**_columns(fit.adjusted_means), "difference": fit.differences["estimate"].to_numpy(),
            "difference_error": fit.differences["standard_error"].to_numpy(), "slopes_p": fit.slopes_equal.p,
            "slopes_F": fit.slopes_equal.F, "group_p": fit.group.p}  # fmt: skip


def _one_way(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.reliability(table, job["value"], golfer="golfer")
    one = {"icc": fit.icc, "ci_low": fit.ci_low, "ci_high": fit.ci_high}
    return {"icc": fit.icc, "sem": fit.sem, "mdc": fit.mdc, "balanced": one}


def _yes_or_no(job: dict, table: pd.DataFrame) -> Answer:
    fit = st.fit_binary(table, job["outcome"], job["predictors"], golfer="golfer")
    return {**_columns(fit.coefficients), "alpha": fit.correlation, "penalised": fit.penalised}


def _ordered_outcome(job: dict, table: pd.DataFrame) -> Answer:
    levels = [int(level) for level in job["levels"]] if job["levels"][0].isdigit() else job["levels"]
    ordered = table.assign(**{job["outcome"]: pd.Categorical(table[job["outcome"]], levels, ordered=True)})
    fit = st.fit_ordinal_mixed(ordered, job["outcome"], job["predictors"], golfer="golfer")
    both = {
        name: np.r_[fit.thresholds[name], fit.coefficients[name]] for name in ("estimate", "standard_error")
    }
    return {**both, "random_variance": fit.random_variance, "log_likelihood": fit.log_likelihood}


def _series(job: dict, table: pd.DataFrame) -> Answer:
    trend = "trend" in job["predictors"]
    names = [name for name in job["predictors"] if name != "trend"]
    fit = st.fit_series(
        table, job["outcome"], names, order=job["order"], trend=trend, session=job.get("session")
    )
    return {"estimate": fit.coefficients["estimate"].to_numpy(), "autocorrelation": fit.autocorrelation,
            "standard_error": fit.coefficients["standard_error"].to_numpy(), "log_likelihood": fit.log_likelihood,
            "residual_variance": fit.residual_variance}  # fmt: skip


def _two_methods(job: dict, table: pd.DataFrame) -> Answer:
    found = st.agreement(table["a"], table["b"])
    return {**{name: getattr(found, name) for name in ("bias", "bias_low", "bias_high", "sd", "lower", "upper")},
            "half": found.upper_high - found.upper}  # fmt: skip


def _wild(job: dict, table: pd.DataFrame) -> Answer:
    found = st.wild_bootstrap(table, job["outcome"], job["predictors"], golfer="golfer", term=job["term"])
    return {"p": found.p, "estimate": found.estimate} if found.weights == "signs, all patterns" else {}


OURS: dict[str, Callable[[dict, pd.DataFrame], Answer]] = {
    "mixed": _mixed,
    "clustered": _clustered,
    "golfer_means": _golfer_means,
    "two_groups": _two_groups,
    "adjusted": _adjusted,
    "one_way": _one_way,
    "yes_or_no": _yes_or_no,
    "ordered_outcome": _ordered_outcome,
    "series": _series,
    "two_methods": _two_methods,
    "wild": _wild,
    "paired_signs": lambda job, table: {"p": st.permutation_test_paired(table["difference"]).p},
    "chances": lambda job, table: {
        "power": st.power_between(
            **{k: job[k] for k in ("golfers_per_group", "swings", "between_sd", "within_sd", "difference")}
        )
    },
    "adjusted_p": lambda job, table: {
        name: st.adjust(job["p"], name) for name in ("holm", "benjamini_hochberg")
    },
}


def difference(name: str, ours: object, theirs: object, answer: dict) -> float:
    """Largest difference of one answer, relative to its size."""
    if isinstance(theirs, dict):
        return max((difference(k, ours[k], v, theirs) for k, v in theirs.items() if k in ours), default=0.0)
    a, b = np.atleast_1d(np.asarray(ours, float)), np.atleast_1d(np.asarray(theirs, float))
    scale = np.maximum(np.abs(b), 1e-12)
    if name in ("criterion", "log_likelihood"):
        scale = np.ones_like(b)
    elif name in ("estimate", "t", "ci_low", "ci_high") and "standard_error" in answer:
        error = np.nan_to_num(np.abs(np.atleast_1d(np.asarray(answer["standard_error"], float))))
        scale = np.maximum(scale, error) if name != "t" else np.maximum(scale, 1.0)
    elif name in ("random_covariance", "session_variance", "random_variance"):
        # A variance of 0 is compared with the residual's, or with that of the logistic distribution.
        floor = 1e-2 * float(answer.get("residual_variance", 1.0))
        spread = np.sqrt(np.abs(np.diag(b))) if b.ndim == 2 else np.sqrt(np.abs(b))
        scale = np.maximum(np.outer(spread, spread) if b.ndim == 2 else spread**2, floor)
    elif name in ("autocorrelation", "alpha", "icc"):
        scale = np.ones_like(b)
    return float(np.nanmax(np.abs(a - b) / scale)) if a.shape == b.shape else np.inf


def answer_of_ours(job: dict, table: pd.DataFrame) -> Answer:
    """Our answers, or the words with which the question is refused."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.filterwarnings("ignore", category=DeprecationWarning)
        try:
            return OURS[job["ask"]](job, table)
        except SwinglabError as fault:
            return {"refused": str(fault)}


def ask_r(jobs: list[dict], folder: Path) -> dict:
    """R's answers to all jobs."""
    (folder / "jobs.json").write_text(json.dumps(jobs))
    call = ["Rscript", str(HERE / "against_r.R"), str(folder / "jobs.json"), str(folder / "answers.json")]
    subprocess.run(call, check=True)
    return json.loads((folder / "answers.json").read_text())


def made_jobs(seeds: list[int], folder: Path, *, small: bool = False) -> list[dict]:
    """All jobs on made tables, the tables written into the folder."""
    jobs = []

    def add(table: pd.DataFrame | None, job: dict, kind: str, seed: int) -> None:
        name = folder / f"{kind}_{seed}.csv"
        if table is not None and not name.exists():
            table.to_csv(name, index=False)
        if job["ask"] == "yes_or_no":  # R estimates the correlation of a golfer's swings by another rule
            job = {**job, "alpha": answer_of_ours(job, table).get("alpha")}
        jobs.append(
            {
                **job,
                "small": small,
                "id": f"{kind} {seed} {len(jobs)}",
                "seed": seed,
                "data": str(name) if table is not None else None,
            }
        )

    for seed in seeds:
        table = standardised(golf_set(seed, small=small))
        for job in golf_jobs(seed):
            if job.get("only") != "few" or 8 <= table["golfer"].nunique() <= 10:
                add(table, job, "golf", seed)
        series, asked = series_jobs(seed)
        for job in asked:
            add(series, job, "series", seed)
        for i, (vectors, job) in enumerate(vector_jobs(seed)):
            add(vectors, job, f"vectors{i}", seed)
    return jobs


def set_jobs(folder: Path) -> list[dict]:
    """The jobs on R's own data sets; R writes each table into the folder."""
    return [
        {**job, "id": f"set {i}", "data": str(folder / f"set_{i}.csv")} for i, job in enumerate(own_jobs())
    ]


def _units(job: dict, ours: Answer) -> float:
    """Largest difference of our t, df and p between the made units and the standardised ones, intercept left out."""
    wild = answer_of_ours(job, golf_set(job["seed"], small=job.get("small", False)))
    return max(difference(name, wild[name][1:], ours[name][1:], {}) for name in ("t", "df", "p"))


def compare(jobs: list[dict], answers: list[dict]) -> tuple[pd.DataFrame, list[str]]:
    """A row for each number compared, and the jobs that one side alone answered, in words."""
    rows, words = [], []
    for job, theirs in zip(jobs, answers, strict=True):
        table = pd.read_csv(job["data"]) if job["data"] else pd.DataFrame()
        ours = answer_of_ours(job, table)
        label = (
            f"{job['ask']} {job.get('set', job['id'])} {job.get('method', '')} {job.get('predictors', '')}"
        )
        if "refused" in ours or "error" in theirs:
            words.append(
                f"{label}: ours {ours.get('refused', 'answered')}; R {theirs.get('error', 'answered')}"
            )
            continue
        if job["ask"] in ("mixed", "clustered") and "seed" in job:
            rows.append((job["ask"], "units", _units(job, ours), label, job["id"]))
        for name in ours.keys() & theirs.keys():
            if theirs[name] is not None:
                rows.append(
                    (job["ask"], name, difference(name, ours[name], theirs[name], theirs), label, job["id"])
                )
    return pd.DataFrame(rows, columns=["ask", "number", "difference", "label", "id"]), words


def influence_and_resamples(folder: Path) -> list[tuple[str, float]]:
    """Fits without each golfer, and fits to resampled golfers, one by one in R: largest relative differences."""
    table = standardised(golf_set(8)).dropna()
    jobs, ours = [], []
    left = st.influence(table, "angle", ["tilt"], term="tilt", golfer="golfer", slopes=["tilt"])
    for golfer in sorted(left.index):
        jobs.append(("influence", table[table["golfer"] != golfer]))
        ours.append(float(left.loc[golfer, "estimate"]))
    again = st.bootstrap_golfers(
        table, "angle", ["tilt"], golfer="golfer", slopes=["tilt"], samples=100, seed=5
    )
    golfers = sorted(table["golfer"].unique())
    share = np.full(len(golfers), 1 / len(golfers))
    drawn = np.random.default_rng(5).multinomial(len(golfers), share, size=100)
    for times, estimate in zip(drawn, again.estimates["tilt"], strict=True):
        copies = [(name, i) for name, k in zip(golfers, times, strict=True) for i in range(k)]
        parts = [table[table["golfer"] == name].assign(golfer=f"{name} {i}") for name, i in copies]
        jobs.append(("bootstrap", pd.concat(parts)))
        ours.append(float(estimate))
    asked = []
    for i, (kind, part) in enumerate(jobs):
        part.to_csv(folder / f"part_{i}.csv", index=False)
        asked.append({"id": kind, "ask": "mixed", "outcome": "angle", "predictors": ["tilt"], "slopes": ["tilt"],
                      "data": str(folder / f"part_{i}.csv")})  # fmt: skip
    answers = ask_r(asked, folder)["answers"]
    # Where R stopped above the optimum that we reach on the same table, there is nothing to learn of ours.
    off = [
        (job["id"], abs(one - theirs["estimate"][1]) / theirs["standard_error"][1])
        for job, one, theirs in zip(asked, ours, answers, strict=True)
        if theirs["criterion"] < answer_of_ours(job, _table_of(job))["criterion"] + 1e-4  # type: ignore[operator]
    ]
    print(f"influence and bootstrap: {len(asked)} fits, R short of the optimum in {len(asked) - len(off)}")
    return [(kind, max(value for name, value in off if name == kind)) for kind in ("influence", "bootstrap")]


def speeds(folder: Path) -> list[str]:
    """Our time for one fit with df beside R's, in one run, the quickest of several."""
    from benchmarks.bench_mixed import made, own_fit, seconds

    words = []
    for golfers, swings, times in ((24, 40, 15), (500, 100, 3)):
        table = made(golfers, swings, seed=1)
        table.to_csv(folder / f"speed_{golfers}.csv", index=False)
        job = {"id": "speed", "ask": "timing", "data": str(folder / f"speed_{golfers}.csv"), "times": times}
        (theirs,) = ask_r([job], folder)["answers"]
        ours = seconds(lambda t=table: own_fit(t), 15)
        words.append(
            f"{golfers} x {swings}: ours with df {ours * 1e3:.1f} ms; lme4 without df {theirs['lme4'] * 1e3:.0f} ms "
            f"({theirs['lme4'] / ours:.0f} times); lmerTest with df {theirs['with_df'] * 1e3:.0f} ms "
            f"({theirs['with_df'] / ours:.0f} times)"
        )
    return words


def freeze(folder: Path) -> None:
    """Keep R's answers on the small made sets, with sums that show whether the sets are still the same."""
    jobs = made_jobs(list(FROZEN_SEEDS), folder, small=True)
    found = ask_r(jobs, folder)
    kept = []
    for job, answer in zip(jobs, found["answers"], strict=True):
        if "error" in answer or "refused" in answer_of_ours(job, _table_of(job)):
            continue
        numbers = {
            k: _short(v) for k, v in answer.items() if k not in ("id", "names", "levels", "theta", "gradient")
        }
        kept.append(
            {"job": {**job, "data": Path(job["data"]).name if job["data"] else None}, "answer": numbers}
        )
    sums = {
        Path(name).name: _fingerprint(pd.read_csv(name))
        for name in sorted({j["data"] for j in jobs if j["data"]})
    }
    FROZEN.parent.mkdir(exist_ok=True)
    lines = ",\n".join(json.dumps(one, separators=(",", ":")) for one in kept)
    head = json.dumps({"versions": found["versions"], "sums": sums})[:-1]
    FROZEN.write_text(f'{head},\n"kept": [\n{lines}\n]}}\n')


def _short(value: object) -> object:
    if isinstance(value, dict):
        return {k: _short(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_short(v) for v in value]
    return float(f"{value:.10g}") if isinstance(value, float) else value


def _fingerprint(table: pd.DataFrame) -> float:
    return float(f"{table.select_dtypes('number').abs().sum().sum():.9g}")


def _table_of(job: dict) -> pd.DataFrame:
    return pd.read_csv(job["data"]) if job["data"] else pd.DataFrame()


def main(words: list[str]) -> None:
    """Run what was asked for and print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if "--freeze" in words:
            freeze(folder)
            return
        for kind, jobs in (
            ("R's own data sets", set_jobs(folder)),
            ("made sets", made_jobs(list(range(int(words[0]) if words else 240)), folder)),
        ):
            rows, said = compare(jobs, ask_r(jobs, folder)["answers"])
            spread = rows.groupby(["ask", "number"])["difference"]
            print(f"\n{kind}\n{spread.agg(['count', 'median', 'max']).to_string()}")
            print("\n".join(said))
        print(influence_and_resamples(folder))
        print("\n".join(speeds(folder)))


if __name__ == "__main__":
    sys.path.insert(0, str(HERE.parent))
    main(sys.argv[1:])
