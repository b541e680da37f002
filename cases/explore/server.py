"""The pages and what they ask of this machine, as a web application that answers its own pages alone."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from meltzone.cases.explore import bench, inquiry, payload, solving, taking
from meltzone.cases.explore.doors import HEADERS, Doors
from meltzone.cases.explore.state import PageState, WorkingFolder
from meltzone.cases.explore.turns import Dropped, Reporting, Turns
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.compare import compare
from meltzone.cases.studies.wording import reason
from meltzone.fem.faults import NoConvergence
from meltzone.materials.errors import UnknownMaterial

MOST_BYTES = 200_000  # of a request
MOST_HELD = 6  # states side by side
KINDS = {".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
Asked = dict[str, Any]


class Guarded:
    """The application `inner` behind its `doors`: everything else is refused, and every answer says what a page may do."""

    def __init__(self, inner: ASGIApp, doors: Doors) -> None:
        self.inner, self.doors = inner, doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return await self.inner(scope, receive, send)

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [
                    *message["headers"],
                    *((k.lower().encode(), v.encode()) for k, v in HEADERS.items()),
                ]
            await send(message)

        refused = self.doors.refusal(scope["path"], {k.decode(): v.decode("latin-1") for k, v in scope["headers"]})
        app: ASGIApp = self.inner if refused is None else PlainTextResponse(refused[1], refused[0])
        return await app(scope, receive, with_headers)


def application(place: WorkingFolder, base: str, doors: Doors) -> ASGIApp:
    """The application for the working folder of `place`, with the case `base` to begin with."""
    desk = Desk(place, base, Turns())
    asked = {
        "answer": desk.answer, "levers": desk.levers, "form": desk.form, "compare": desk.compare, "take": desk.take,
        "bench/plan": desk.plan, "bench/sheet": desk.sheet, "bench/enter": desk.enter, "bench/add": desk.add,
        "bench/reduce": desk.reduce,
    }  # fmt: skip
    routes = [
        *(Route(f"/ask/{name}", _asking(answer), methods=["POST"]) for name, answer in asked.items()),
        Route("/ask/sweep", desk.sweep, methods=["GET"]),
        Route("/", _shown("explore.html")), Route("/bench", _shown("bench.html")),
        *(Route(f"/{name}", _shown(name)) for name in static_names()),
    ]  # fmt: skip
    return Guarded(Starlette(routes=[Mount(doors.prefix, routes=routes)] if doors.prefix else routes), doors)


def static_names() -> list[str]:
    """Names of the files that the pages are made of."""
    return sorted(each.name for each in files("meltzone.cases.explore").joinpath("static").iterdir())


def _shown(name: str) -> Callable[[Request], Awaitable[Response]]:
    """One file of the pages, read when it is asked for."""

    async def answer(_: Request) -> Response:
        content = files("meltzone.cases.explore").joinpath("static", name).read_bytes()
        return Response(content, media_type=KINDS["." + name.rpartition(".")[2]])

    return answer


def _asking(answer: Callable[[Asked], Awaitable[Any]]) -> Callable[[Request], Awaitable[Response]]:
    """What is asked as JSON, answered as JSON; what is wrong with it in the words of the command line."""

    async def answered(request: Request) -> Response:
        if request.headers.get("content-type", "").partition(";")[0] != "application/json":
            return JSONResponse({"error": {"text": "Ask in JSON."}}, 415)
        body = b""
        async for chunk in request.stream():
            body += chunk
            if len(body) > MOST_BYTES:
                return JSONResponse({"error": {"text": "That is too long."}}, 413)
        try:
            asked = json.loads(body)
            found = await answer(asked if isinstance(asked, dict) else {})
        except Dropped:
            return JSONResponse({"dropped": True}, 409)
        except (CaseError, UnknownMaterial, NoConvergence) as error:
            return JSONResponse({"error": _told(error)}, 422)
        except (KeyError, TypeError, ValueError):
            return JSONResponse({"error": {"text": "The page has asked for something unknown. Reload it."}}, 400)
        return found if isinstance(found, Response) else JSONResponse(found)

    return answered


def _told(error: Exception) -> dict[str, Any]:
    if isinstance(error, CaseError):
        return {
            "text": str(error), "file": error.file, "line": error.line, "key": error.key, "value": error.value,
            "expected": error.expected, "hint": error.hint,
        }  # fmt: skip
    return {"text": reason(error) if isinstance(error, NoConvergence) else str(error), "key": None}


class Desk:
    """Answers to what the pages ask, in the working folder of `place`."""

    def __init__(self, place: WorkingFolder, base: str, turns: Turns) -> None:
        self.place, self.base, self.turns = place, base, turns

    async def form(self, asked: Asked) -> Any:
        """The form of a case to begin with, its keys in the order of what matters, and the cases to choose from."""
        held = PageState.of(asked.get("state") or {"base": self.base})

        def made(report: Reporting) -> Any:
            case = self.place.case(held)
            shown = inquiry.form(case)
            return shown | {"base": held.base, "bases": self.place.bases(), "levers": _levers(case, shown, report)}

        return await self.turns.aside(made)

    async def answer(self, asked: Asked) -> Any:
        """One state: at once, or in full; the number of the request says which is newest."""
        held, number, solve = (
            PageState.of(asked["state"]),
            int(asked["number"]),
            solving.whole if asked["whole"] else solving.quick,
        )

        def answered(report: Reporting) -> Any:
            return payload.answer(solve(self.place.case(held), report)) | {
                "number": number,
                "whole": bool(asked["whole"]),
            }

        return await self.turns.take(str(asked["page"])[:64], number, answered)

    async def levers(self, asked: Asked) -> Any:
        """What a step of each number buys in this state."""
        held = PageState.of(asked["state"])

        def found(report: Reporting) -> Any:
            case = self.place.case(held)
            return {"levers": _levers(case, inquiry.form(case), report)}

        return await self.turns.take(f"{str(asked['page'])[:64]} levers", int(asked["number"]), found)

    async def compare(self, asked: Asked) -> Any:
        """PageState states side by side."""
        states = [PageState.of(each) for each in asked["states"][:MOST_HELD]]
        flow = asked.get("flow") or None

        def found(report: Reporting) -> Any:
            return payload.comparison(compare([self.place.case(each) for each in states], flow, report=report))

        return await self.turns.take(f"{str(asked['page'])[:64]} compare", int(asked["number"]), found)

    async def take(self, asked: Asked) -> Response:
        """A file that leaves with the state: case file, report, picture or record."""
        held, made = PageState.of(asked["state"]), taking.WAYS[asked["what"]]
        content, name, kind = await self.turns.aside(lambda report: made(self.place.case(held), report))
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type=kind, headers=headers)

    async def sweep(self, request: Request) -> Response:
        """The ceiling over the range of one number, each point told when it is there."""
        try:
            held = PageState.of(json.loads(request.query_params["state"]))
            tried = solving.sweep(self.place.case(held), request.query_params["key"])
        except (CaseError, KeyError, ValueError, UnknownMaterial) as error:
            return JSONResponse({"error": {"text": str(error)}}, 422)

        async def told() -> AsyncIterator[str]:
            try:
                while (found := await self.turns.aside(lambda _: next(tried, None))) is not None:
                    yield f"data: {json.dumps(asdict(found))}\n\n"
                yield "event: end\ndata: {}\n\n"
            except (CaseError, NoConvergence) as error:
                yield f"event: fault\ndata: {json.dumps(_told(error))}\n\n"

        return StreamingResponse(told(), media_type="text/event-stream")

    async def plan(self, asked: Asked) -> Any:
        """Lay out a bench sheet for a state."""
        held, name = PageState.of(asked["state"]), str(asked["name"])
        await self.turns.aside(lambda report: bench.lay_out(self.place, held, name, report))
        return {"name": name}

    async def sheet(self, asked: Asked) -> Any:
        """The sheets of the folder, and the one called so with what is weighed."""
        name = str(asked.get("name", ""))

        def found() -> Any:
            known = bench.sheets(self.place)
            if not name:
                return {"sheets": known}
            sheet = bench.read(self.place, name)
            return {"sheets": known, "sheet": bench.told(sheet), "weighed": bench.weighed(sheet)}

        return await run_in_threadpool(found)

    async def enter(self, asked: Asked) -> Any:
        """A mass, a note, or whether a sample is to be used; on disk when this is answered."""
        changed: dict[str, str] = {key: str(asked[key]) for key in ("mass", "note", "use") if key in asked}
        name, order = str(asked["name"]), str(asked["order"])
        sheet = bench.enter(self.place, name, order, changed)
        return {"sheet": bench.told(sheet), "weighed": bench.weighed(sheet)}

    async def add(self, asked: Asked) -> Any:
        """Samples that the advice asks for, at the end of the sheet."""
        sheet = bench.add(self.place, str(asked["name"]), float(asked["flow"]), int(asked["count"]))
        return {"sheet": bench.told(sheet), "weighed": bench.weighed(sheet)}

    async def reduce(self, asked: Asked) -> Any:
        """Line, onset, ceiling and advice so far."""
        sheet = bench.read(self.place, str(asked["name"]))
        page, number = f"{str(asked['page'])[:64]} reduce", int(asked["number"])
        return await self.turns.take(page, number, lambda report: bench.reduced(sheet, report))


def _levers(case: Any, shown: Any, report: Reporting) -> list[dict[str, Any]]:
    """The strongest numbers that the form has, the strongest first; none where nothing flows."""
    known = set(inquiry.in_form(shown))
    try:
        found = solving.levers(case, report)
    except NoConvergence:
        return []
    return [{"key": e.key, "step": e.step, "change": e.change, "percent": e.percent} for e in found if e.key in known]
