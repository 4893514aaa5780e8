"""A session on the range: captures arrive whole, in pieces, twice or damaged; keys act, undo, and lose nothing."""

from __future__ import annotations

import json
import shutil
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
from made_range import GOLFER, arrive

from swinglab.study import answer_study, csv_tables, measure_study, open_study, write_results
from swinglab.watch import RangeSession, arrivals
from swinglab.watch.server import SessionServer
from swinglab.watch.view import last_frames, season_of, view_of


def test_a_new_capture_is_entered_measured_and_shown(home: Path, coming: list[Path]) -> None:
    """Truth: other. The value shown is the one that measuring the study gives."""
    session = RangeSession(home, golfer=GOLFER, every=1)
    session.press("b")
    assert arrive(session, coming[0]) == [coming[0].stem]
    view = view_of(session)
    row = open_study(home).swings.iloc[-1]
    assert (row["golfer"], row["phase"], row["order"]) == (GOLFER, "before", 1)
    table = measure_study(open_study(home), workers=1).swings.set_index("swing")
    value = table.at[coming[0].stem, session.number.column]
    assert view["posture"]["value"] == round(float(value), 1)
    assert view["last"]["swing"] == coming[0].stem and view["aim"] == [0.0, 4.0]
    assert [frames.swing for frames in last_frames(session)] == [coming[0].stem]


def test_a_file_in_pieces_waits_and_a_damaged_one_is_named(
    home: Path, coming: list[Path], monkeypatch
) -> None:
    """Truth: made. Half of a capture, then all of it; and a file that stays half."""
    session = RangeSession(home, golfer=GOLFER)
    path, content = home / "captures" / coming[0].name, coming[0].read_bytes()
    path.write_bytes(content[: len(content) // 2])
    session.poll()
    assert session.poll() == [] and session.arrivals.waiting[path] == "is not complete yet"
    monkeypatch.setattr(arrivals, "GIVEN_UP_S", -1.0)
    assert session.poll() == [] and "incomplete or damaged" in session.arrivals.refused[path]
    assert view_of(session)["refused"] == [
        f"{path.name} is incomplete or damaged, and is no longer being written"
    ]
    path.write_bytes(content)
    session.poll()
    assert session.poll() == [coming[0].stem]


def test_a_second_copy_of_a_capture_is_refused(home: Path, coming: list[Path]) -> None:
    """Truth: made. The same bytes under another name."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    copy = home / "captures" / "again.c3d"
    shutil.copy(coming[0], copy)
    assert arrive(session) == []
    why = f"is not added, because its content is the same as that of {coming[0].name}"
    assert session.arrivals.refused[copy] == why


def test_tables_are_those_of_the_finished_folder_measured_at_once(home: Path, coming: list[Path]) -> None:
    """Truth: other. Byte for byte, two of the captures arriving together; a start again in between loses nothing."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    session = RangeSession(home, golfer=GOLFER)  # killed and started again
    assert arrive(session, *coming[1:]) and len(open_study(home).swings) == 18
    session.close()
    study = open_study(home)
    results = measure_study(study, workers=1)
    write_results(study, results, answer_study(study, results), home.parent / "at once")
    for file in sorted((home.parent / "at once").glob("*.csv")):
        assert file.read_bytes() == (home / "results" / file.name).read_bytes(), file.name


def test_keys_mark_the_last_swing_and_can_be_undone(home: Path, coming: list[Path]) -> None:
    """Truth: made. What swings.csv holds after each key."""

    def cell(column: str) -> str:
        table = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False)
        return str(table[column].iloc[-1])

    session = RangeSession(home, golfer=GOLFER)
    session.press("m")
    assert "this session has no swing yet" in session.messages[-1]
    session.press("a")
    session.press("k")
    arrive(session, coming[0])
    assert (cell("phase"), cell("cue")) == ("after", "lead hip first")
    session.press("t")
    assert cell("seen") == "topped" and view_of(session)["swings"] == 1
    session.press("u")
    assert cell("seen") == ""
    session.press("p")
    assert cell("exclude").startswith("practice swing") and view_of(session)["swings"] == 0
    session.press("u")
    assert cell("exclude") == "" and view_of(session)["swings"] == 1
    assert not session.press("z")


def test_another_golfer_by_one_key_and_by_folder(home: Path, coming: list[Path]) -> None:
    """Truth: made. A folder that bears a golfer's code wins over the chosen golfer; each page shows its own swings."""
    session = RangeSession(home, golfer=GOLFER)
    (home / "captures" / "G02").mkdir()
    shutil.copy(coming[2], home / "captures" / "G02" / "today.c3d")
    arrive(session)
    assert open_study(home).swings["golfer"].iloc[-1] == "G02"
    assert view_of(session)["swings"] == 0
    session.press("2")
    assert view_of(session)["golfer"] == "G02" and view_of(session)["swings"] == 1


def test_a_capture_of_another_golfer_is_doubted_on_the_page(home: Path, coming: list[Path]) -> None:
    """Truth: made. G02 is of another stature than G01; entered as G01, its segments have other lengths."""
    session = RangeSession(home, golfer=GOLFER)
    own, other = coming[0], coming[2]
    assert (own.stem, other.stem) == ("G01_1", "G02_2")
    arrive(session, own)
    assert view_of(session)["last"]["problems"] == []
    arrive(session, other)
    problems = view_of(session)["last"]["problems"]
    assert any("doubtful" in text or "impossible" in text for text in problems), problems


def test_a_full_disk_sets_no_mark_and_says_so(home: Path, coming: list[Path], monkeypatch) -> None:
    """Truth: made. Writing fails as on a full disk; the table is as before, nothing is half-written."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    before = (home / "swings.csv").read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(csv_tables, "write_table", full)
    session.press("m")
    assert "No space left on device" in session.messages[-1]
    assert arrive(session, coming[1]) == []
    assert (home / "swings.csv").read_bytes() == before and not (home / "swings.csv.new").exists()
    monkeypatch.undo()
    monkeypatch.setattr(arrivals, "SETTLED_S", 0.0)
    assert session.poll() == [coming[1].stem]


def test_no_verdict_before_the_planned_number(home: Path, coming: list[Path]) -> None:
    """Truth: made. Two of eight planned swings."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    assert view_of(session)["progress"].startswith("running, no verdict yet")


@pytest.fixture
def server(home: Path) -> Iterator[SessionServer]:
    """The page of a session, served."""
    serving = SessionServer(RangeSession(home, golfer=GOLFER))
    serving.start()
    yield serving
    serving.stop()


def get(address: str, **options: object) -> tuple[int, bytes, dict[str, str]]:
    request = urllib.request.Request(address, **options)  # type: ignore[arg-type]
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.read(), dict(answer.headers)
    except urllib.error.HTTPError as fault:
        with fault:
            return fault.code, b"", {}


def test_the_page_is_for_this_computer_and_this_address_alone(server: SessionServer) -> None:
    """Truth: other. Plain requests: without the token, under another host's name, with a key that is no key."""
    status, page, headers = get(server.address)
    assert status == 200 and b"Golfer" in page and "default-src 'none'" in headers["Content-Security-Policy"]
    root = server.address.rsplit("/", 2)[0]
    assert get(f"{root}/")[0] == 404 and get(f"{root}/state")[0] == 404
    assert get(f"{server.address}state", headers={"Host": "elsewhere.example"})[0] == 404
    assert get(f"{server.address}key", data=b"no json")[0] == 400
    status, body, _ = get(f"{server.address}key", data=json.dumps({"key": "a"}).encode())
    assert status == 200 and json.loads(body)["phase"] == "after"


@pytest.mark.parametrize(
    "head",
    [
        "POST /wrong/key HTTP/1.1\r\nContent-Length: 70",
        "POST /{place}key HTTP/1.1\r\nContent-Length: 5000",
        "POST /{place}key HTTP/1.1\r\nTransfer-Encoding: chunked",
        "POST /{place}../key HTTP/1.1\r\nContent-Length: 70",
        "GET /{place}%2e%2e/%2e%2e/etc/passwd HTTP/1.1",
        "GET /{place}swing/../../study.toml HTTP/1.1",
    ],
)
def test_what_a_refused_request_carries_is_not_read_as_the_next_one(server: SessionServer, head: str) -> None:
    """Truth: made. A wrong address, a body too long or in pieces, ways out of the page: one refusal, then the end."""
    _, _, host, place = server.address.split("/", 3)
    inner = f"GET /{place}state HTTP/1.1\r\nHost: {host}\r\n\r\n"
    with socket.create_connection((host.split(":")[0], int(host.split(":")[1])), timeout=5) as wire:
        wire.sendall(f"{head.format(place=place)}\r\nHost: {host}\r\n\r\n{inner}".encode())
        answer = b""
        while piece := wire.recv(65536):
            answer += piece
    assert answer.count(b"HTTP/1.1 ") == 1 and answer.split()[1] in (b"400", b"404")


def test_a_page_that_polls_sees_a_new_swing(server: SessionServer, coming: list[Path]) -> None:
    """Truth: made. A file moved in, as a capture system does it; the state's version changes."""
    before = json.loads(get(f"{server.address}state")[1])["version"]
    target = server.session.folder / "captures" / coming[0].name
    shutil.copy(coming[0], target.with_suffix(".part"))
    target.with_suffix(".part").replace(target)
    state: dict = {}
    end = time.monotonic() + 30
    while not state.get("last") and time.monotonic() < end:
        state = json.loads(get(f"{server.address}state")[1])
        time.sleep(0.1)
    assert state["last"]["swing"] == coming[0].stem and state["version"] > before
    assert b"swinglab-viewer-here" in get(f"{server.address}swing")[1]


def test_the_season_uses_the_placement_error_of_each_session(home: Path, coming: list[Path]) -> None:
    """Truth: made. 3 deg given for each session reads like 3 deg for the study; before, it was not used."""
    table = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False)
    table.loc[table["golfer"] == GOLFER, "session"] = "first"
    table.to_csv(home / "swings.csv", index=False)
    session = RangeSession(home, golfer=GOLFER)
    session.press("b")
    arrive(session, *coming[:2])
    unknown, today = season_of(session), session.session
    settings = home / "study.toml"
    text = settings.read_text(encoding="utf-8")
    seasons = []
    for sections in (["errors"], ["session.first.errors", f'session."{today}".errors']):
        given = "".join(f"\n[{name}]\nplacement_deg = 3.0\n" for name in sections)
        settings.write_text(text + given, encoding="utf-8")
        seasons.append(season_of(RangeSession(home, golfer=GOLFER)))
    assert seasons[0] == seasons[1]
    assert seasons[1]["sessions"][0] != unknown["sessions"][0]
