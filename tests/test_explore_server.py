"""The page's server without a browser: who is let in, what may be read and written, and answers against the command line's."""

from __future__ import annotations

import asyncio
import base64
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from meltzone.cases.explore.doors import Doors, listening
from meltzone.cases.explore.inquiry import form, in_form
from meltzone.cases.explore.server import application, static_names
from meltzone.cases.explore.serving import opened
from meltzone.cases.explore.solving import sweep
from meltzone.cases.explore.state import PageState, WorkingFolder
from meltzone.cases.explore.turns import Dropped, Turns
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.parameters import table_model
from meltzone.cases.inputs.reader import example_names, load_case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.outputs.case_file import commented
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.run import ceiling

PORT = 8765
HERE = f"http://127.0.0.1:{PORT}"
COARSE = {"mesh.level": "0.25"}
Ask = Callable[..., Any]


def _client(folder: Path, doors: Doors | None = None, base: str = HERE) -> TestClient:
    return TestClient(application(WorkingFolder(folder), "short-block", doors or Doors(PORT)), base_url=base)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A working folder beside one that is nobody's business."""
    outside = tmp_path_factory.mktemp("outside")
    (outside / "secret.toml").write_text('heater.setpoint = "210 degC"\n')
    inside = outside / "inside"
    inside.mkdir()
    (inside / "mine.toml").write_text('extends = "short-block"\ntitle = "Mine"\n')
    (inside / "sly.toml").write_text('extends = "../secret.toml"\n')
    (inside / "link.toml").symlink_to(outside / "secret.toml")
    (outside / "secret.csv").write_text("order,mass [g]\n1,2\n")
    (inside / "link.csv").symlink_to(outside / "secret.csv")
    return inside


@pytest.fixture(scope="module")
def client(folder: Path) -> Iterator[TestClient]:
    """The application of that folder, for this machine alone."""
    with _client(folder) as found:
        yield found


def _state(base: str = "short-block", **typed: str) -> dict[str, Any]:
    return {"base": base, "typed": {key.replace("__", "."): text for key, text in typed.items()} | COARSE}


def _answer(client: TestClient, state: dict[str, Any], whole: bool = False, page: str = "test", number: int = 1) -> Any:
    return client.post("/ask/answer", json={"page": page, "number": number, "whole": whole, "state": state})


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "example.org"}, {"host": f"example.org:{PORT}"}, {"host": "127.0.0.1:80"}, {"host": "192.168.1.9:8765"},
        {"origin": "http://example.org"}, {"origin": "null"}, {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://localhost:{PORT}"}, {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"},
    ],
)  # fmt: skip
def test_a_foreign_host_or_origin_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    for path in ("/", "/bench", "/look.css", "/ask/sweep"):
        assert client.get(path, headers=headers).status_code == 403
    assert client.post("/ask/form", json={}, headers=headers).status_code == 403


def test_its_own_pages_are_let_in(client: TestClient) -> None:
    assert client.get("/", headers={"origin": HERE, "sec-fetch-site": "same-origin"}).status_code == 200
    assert client.get("/", headers={"host": f"localhost:{PORT}"}).status_code == 200


def test_without_the_token_nothing_is_answered(folder: Path) -> None:
    doors = Doors.open(PORT, "192.168.1.9")
    assert len(doors.token) >= 43, "256 bits"
    assert doors.token != Doors.open(PORT, "192.168.1.9").token
    with _client(folder, doors, f"http://192.168.1.9:{PORT}") as phone:
        for path in (
            "/",
            "/bench",
            "/explore.js",
            "/ask/sweep",
            f"/{doors.token[:-1]}/",
            f"/{doors.token}x/",
            "//",
            "/é/",
        ):
            assert phone.get(path).status_code == 403, path
        assert phone.post("/ask/form", json={}).status_code == 403
        assert phone.get(doors.prefix + "/").status_code == 200
        assert phone.get(doors.prefix + "/bench").status_code == 200
        assert phone.post(doors.prefix + "/ask/form", json={}).json()["base"] == "short-block"
        assert phone.get(doors.prefix + "/", headers={"host": f"example.org:{PORT}"}).status_code == 403


def test_without_share_only_the_loopback_address_listens(tmp_path: Path) -> None:
    found = opened("short-block", 0, False, tmp_path)
    try:
        assert [each.getsockname()[0] for each in found.sockets] == ["127.0.0.1"]
        assert not found.doors.token and not found.elsewhere
        with pytest.raises(CaseError, match="a port that is free"):
            found.sockets[0].listen()
            listening("127.0.0.1", found.doors.port).listen()
    finally:
        for each in found.sockets:
            each.close()


@pytest.mark.parametrize("name", ["../secret.toml", "sly.toml", "link.toml", "/etc/passwd", "..", ".", "a\0b"])
def test_no_case_outside_the_folder_is_read(client: TestClient, name: str) -> None:
    answer = client.post("/ask/form", json={"state": {"base": name, "typed": {}}})
    assert answer.status_code == 422
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("name", ["../secret.csv", "link.csv", "/etc/hosts", "a/b.csv", ".hidden.csv", "sheet.txt", ""])
def test_no_sheet_outside_the_folder_is_read_or_written(client: TestClient, folder: Path, name: str) -> None:
    before = sorted(path.name for path in folder.parent.rglob("*")), (folder.parent / "secret.csv").read_text()
    if name:
        assert client.post("/ask/bench/sheet", json={"name": name}).status_code == 422
    assert client.post("/ask/bench/enter", json={"name": name, "order": "1", "mass": "3"}).status_code == 422
    assert client.post("/ask/bench/plan", json={"name": name, "state": _state()}).status_code == 422
    assert client.post("/ask/bench/sheet", json={}).json()["sheets"] == []
    assert before == (
        sorted(path.name for path in folder.parent.rglob("*")),
        (folder.parent / "secret.csv").read_text(),
    )


@pytest.mark.parametrize(
    "path", ["/../server.py", "/static/../server.py", "/%2e%2e/server.py", "/..%2fserver.py", "/server.py"]
)
def test_only_the_files_of_the_page_are_served(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_every_answer_says_what_a_page_may_do_and_nothing_is_fetched_from_outside(client: TestClient) -> None:
    for name in ("", "bench", *static_names()):
        answer = client.get(f"/{name}")
        assert answer.status_code == 200
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["referrer-policy"] == "no-referrer"
        outside = answer.text.replace("http://www.w3.org/2000/svg", "")
        assert "http://" not in outside and "https://" not in outside and "//cdn" not in outside, name


def test_what_is_no_question_is_told_so(client: TestClient) -> None:
    assert client.post("/ask/form", content="x=1", headers={"content-type": "text/plain"}).status_code == 415
    assert client.post("/ask/form", content="{", headers={"content-type": "application/json"}).status_code == 400
    assert client.post("/ask/answer", json={"state": []}).status_code in (400, 422)
    assert client.post("/ask/form", json={"x": "y" * 300_000}).status_code == 413


SENT = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from(["base", "typed", "name"]) | st.text(), inner),
    max_leaves=8,
)


@given(SENT)
def test_whatever_a_page_sends_as_a_state_gives_one_error(sent: Any) -> None:
    try:
        held = PageState.of(sent)
    except CaseError as error:
        assert error.expected and error.hint
    else:
        assert isinstance(held.base, str)


def test_the_answer_is_that_of_the_command_line(client: TestClient) -> None:
    lines = '["0.2 mm x 0.45 mm"]'
    found = _answer(client, _state(heater__setpoint="235 degC", line__sizes=lines), whole=True).json()
    asked = ceiling("short-block", {"heater.setpoint": "235 degC", "mesh.level": 0.25})
    assert found["ceiling"] == pytest.approx(asked.flow_ceiling, rel=1e-7)
    for words in ("governs", "where the heat goes", "heat sink"):
        assert words in found["said"] + found["tables"]
    assert "burns" in found["heed"] and "stuck on" in found["heed"], "cautions stand beside the result"
    assert asked.band is not None and found["band"] == pytest.approx(asked.band.bounds, rel=1e-6)
    assert "nine times in ten" in found["said"] and "what makes the band wide" in found["why"]
    assert "speed to use" in found["prints"] and "speed to use" not in found["tables"]
    assert "%" in found["why"] and found["numbers"].count("<tr>") > 20


def test_the_mesh_of_searches_is_near_the_cases_own(client: TestClient) -> None:
    """A tenth of a per cent, as that mesh promises."""
    state = {"base": "short-block", "typed": {}}
    quick = _answer(client, state, page="near").json()
    whole = ceiling("short-block").flow_ceiling
    assert quick["mesh"]["unknowns"] < 4000
    assert quick["ceiling"] == pytest.approx(whole, rel=2e-3)


def test_the_field_is_sent_as_it_was_solved(client: TestClient) -> None:
    sent = _answer(client, _state(), whole=True, page="field").json()["field"]
    field = ceiling("short-block", {"mesh.level": 0.25}).field
    assert field is not None
    kinds = {"r": "<f4", "t": "<f4", "cells": "<u2", "part": "u1"}
    unpacked = {name: np.frombuffer(base64.b64decode(sent[name]), kind) for name, kind in kinds.items()}
    assert unpacked["t"] == pytest.approx(field.temperature - 273.15, abs=1e-3)
    assert (unpacked["cells"].reshape(-1, 9) == field.system.space.cells.dofs).all()
    for number, part in enumerate(sent["parts"]):
        assert (np.flatnonzero(unpacked["part"] == number) == np.sort(field.system.space.cells_of(part))).all()


def test_impossible_input_is_the_error_of_the_command_line_with_its_key(client: TestClient) -> None:
    for key, text in {
        "nozzle.exposed": "90 mm",
        "heater.setpoint": "210",
        "block.heigth": "3 mm",
        "polymer.material": "x",
    }.items():
        answer = _answer(client, {"base": "short-block", "typed": {key: text}})
        assert answer.status_code == 422
        told = answer.json()["error"]
        with pytest.raises(CaseError) as caught:
            ceiling("short-block", {key: int(text) if text.isdigit() else text})
        assert told["text"] == str(caught.value) and told["key"] == caught.value.key


def test_every_key_of_the_schema_is_in_the_form_once() -> None:
    shown = form(load_case("short-block"))
    keys = list(in_form(shown))
    models = {name: table_model(name) for name in CaseModel.model_fields}
    schema = [f"{name}.{key}" for name, model in models.items() if model for key in model.model_fields]
    assert sorted(keys) == sorted(schema) and len(keys) > 60
    json.dumps(shown, allow_nan=False)


@pytest.mark.parametrize("name", example_names())
def test_the_commented_file_of_a_case_is_that_case(name: str, tmp_path: Path) -> None:
    before = load_case(name, {"heater.setpoint": "212 +/- 3 degC", "uncertainty.polymer.conductivity": "10 %"})
    path = tmp_path / "again.toml"
    path.write_text(commented(before))
    after = load_case(path)
    assert after.model == before.model.model_copy(update={"extends": None})
    assert 'setpoint = "212 degC +/- 3 K"' in path.read_text() and "extends" not in path.read_text()


def test_a_sweep_goes_outwards_and_says_where_it_cannot(folder: Path) -> None:
    case = WorkingFolder(folder).case(PageState("short-block", (("mesh.level", "0.25"),)))
    found = list(sweep(case, "nozzle.exposed", points=5))
    away = [abs(each.value - 5.0) for each in found]
    assert away == sorted(away)
    assert any(each.ceiling is None and each.reason for each in found), (
        "a nozzle of 12.5 mm has not 15 mm below the block"
    )
    for each in found:
        if each.ceiling:
            own = ceiling("short-block", {"nozzle.exposed": each.typed, "mesh.level": 0.25}).flow_ceiling
            assert each.ceiling == pytest.approx(own, rel=2e-3)
    with pytest.raises(CaseError):
        list(sweep(case, "nozzle.material"))


def test_states_are_compared_as_the_command_does(client: TestClient) -> None:
    hot = _state(heater__setpoint="235 degC") | {"name": "hot"}
    found = client.post("/ask/compare", json={"page": "c", "number": 1, "states": [_state(), hot]}).json()
    assert [each["name"] for each in found["bars"]] == ["short-block", "hot"]
    first, second = (each["ceiling"] for each in found["bars"])
    assert found["bars"][1]["gain"].startswith(f"{100.0 * (second / first - 1.0):+.0f} (")
    low, high = found["bars"][1]["band"]
    assert low < second < high
    assert max(found["curves"][1]["delivered"]) == pytest.approx(second, rel=1e-6)
    assert "gain on the first" in found["tables"]


@pytest.mark.parametrize(("what", "begin"), [("case", b"# A case"), ("record", b"{"), ("picture", b"\x89PNG")])
def test_what_leaves_is_what_it_is_called(client: TestClient, what: str, begin: bytes) -> None:
    answer = client.post("/ask/take", json={"state": _state(), "what": what})
    assert answer.content.startswith(begin)
    assert "attachment" in answer.headers["content-disposition"]


def test_older_requests_are_dropped_and_one_runs_at_a_time() -> None:
    """While one solves, two more come: the first of these is dropped, and what runs is told at its next stage."""
    begun, go, running, most = threading.Event(), threading.Event(), [], [0]

    def solve(report: Callable[[str], None]) -> str:
        running.append(1)
        most[0] = max(most[0], len(running))
        begun.set()
        go.wait(5)
        running.pop()
        report("stage")
        return "answered"

    async def story() -> list[Any]:
        turns = Turns()
        first = asyncio.create_task(turns.take("page", 1, solve))
        await asyncio.to_thread(begun.wait, 5)
        others = [asyncio.create_task(turns.take("page", number, solve)) for number in (2, 3)]
        await asyncio.sleep(0.05)
        go.set()
        found = await asyncio.gather(first, *others, return_exceptions=True)
        turns.close()
        return found

    first, second, third = asyncio.run(story())
    assert isinstance(first, Dropped) and isinstance(second, Dropped) and third == "answered"
    assert most == [1]


def test_a_sheet_takes_masses_that_reduce_reads(client: TestClient, folder: Path) -> None:
    name = "sheet.csv"
    assert (
        client.post("/ask/bench/plan", json={"name": name, "state": _state(heater__setpoint="230 degC")}).status_code
        == 200
    )
    sheet = client.post("/ask/bench/sheet", json={"name": name}).json()["sheet"]
    assert sheet["next"] == "1" and len(sheet["rows"]) == 30 and any("burn" in text for text in sheet["cautions"])
    text = (folder / name).read_text()
    entered = client.post("/ask/bench/enter", json={"name": name, "order": "1", "mass": "2,345"}).json()
    assert entered["sheet"]["next"] == "2"
    assert load_samples(folder / name).series[0].samples[0].mass == pytest.approx(2.345e-3)
    changed = [
        (a, b) for a, b in zip(text.splitlines(), (folder / name).read_text().splitlines(), strict=True) if a != b
    ]
    assert len(changed) == 1, "one line alone has changed"
    for mass in ("abc", "-3", "1e9", "3 mm"):
        answer = client.post("/ask/bench/enter", json={"name": name, "order": "2", "mass": mass})
        assert answer.status_code == 422 and answer.json()["error"]["key"] == "mass"
    assert client.post("/ask/bench/enter", json={"name": name, "order": "77", "mass": "1"}).status_code == 422
    again = client.post("/ask/bench/plan", json={"name": name, "state": _state()})
    assert again.status_code == 422 and "still as this program wrote it" in again.json()["error"]["text"]
    assert not list(folder.glob(".meltzone-*"))
    more = client.post("/ask/bench/add", json={"name": name, "flow": 12.5, "count": 2}).json()["sheet"]
    assert [row["order"] for row in more["rows"][-2:]] == ["31", "32"] and float(more["rows"][-1]["flow"]) == 12.5
    (folder / name).unlink()
    assert load_case(folder / "sheet.toml").model.heater.setpoint == pytest.approx(503.15)
