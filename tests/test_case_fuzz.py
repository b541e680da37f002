"""Mutated case files: reading and building one gives a problem or a CaseError, never anything else."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from meltzone.cases.inputs import reader
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import example_names, load_case
from meltzone.cases.inputs.starter import starter_text

EXAMPLES = Path(reader.__file__).parents[1] / "examples"
TEXTS = [(EXAMPLES / f"{name}.toml").read_text(encoding="utf-8") for name in example_names()]
WHOLE = starter_text("long-nozzle-wrapped-fan").replace("\n# ", "\n")  # every key, and some prose that is no TOML
BASES = [*TEXTS, WHOLE, "\n".join(line for line in WHOLE.splitlines() if " = " in line or line.startswith("["))]
VALUES = [
    '"12 s"', '"1e300 mm"', '"-5 mm"', '"0 mm"', '"1e-9 mm"', '"nan K"', '"210 degC"', '"300 K"', '"5 m"', '"PLA"',
    '"brass"', "12", "-1", "0", "1e308", "inf", "nan", "true", "false", "[]", '["block"]', "{}", "{ a = 1 }", '""',
    "1979-05-27", '"short-block"', '"long-block-fan"', '"\\u0000"', "0x" + "f" * 300, '"300 degC"', '"60 deg"',
    '"1 W/m^2/K"',
]  # fmt: skip
ENTRIES = [*VALUES, '"polymer"', '"0.2 W/m/K"', '"2000 J/kg/K"']
CARD_KEYS = [
    "kind", "label", "conductivity", "heat_capacity", "density", "emissivity", "flow_temperature", "viscosity", "fumes",
    "melting_enthalpy", "melting_peak", "melting_width", "softening_temperature", "cautions", "service_limit",
]  # fmt: skip
NAMES = ["length", "material", "setpoint", "sleeve", "materials", "a.b", '"x y"', "films", "extends", "bore"]
KEYS = st.sampled_from(["heater.setpoint", "nozzle", "sleeve", "", "a..b", "[key]", "nozzle.bore"])
SETTINGS = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def _check(raw: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mutated.toml"
        path.write_bytes(raw)
        try:
            problem_of(load_case(path))
        except CaseError as error:
            assert error.file and error.expected and error.hint
            assert all(line.isprintable() for line in str(error).split("\n"))


@st.composite
def mutated_lines(draw: st.DrawFn) -> bytes:
    """A shipped example with some lines dropped, doubled, moved, renamed or given other values."""
    lines = draw(st.sampled_from(BASES)).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        action = draw(st.sampled_from(["drop", "double", "move", "rename", "value", "value", "table"]))
        name, _, value = lines[at].partition("=")
        if action == "drop":
            del lines[at]
        elif action == "double":
            lines.insert(at, lines[at])
        elif action == "move":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
        elif action == "rename":
            lines[at] = f"{draw(st.sampled_from(NAMES))} = {value or '1'}"
        elif action == "value":
            lines[at] = f"{name.strip() or 'x'} = {draw(st.sampled_from(VALUES))}"
        else:
            lines[at] = (
                f"[{draw(st.sampled_from(['materials', 'sleeve', 'polymer', 'wrap']))}.{draw(st.sampled_from(NAMES))}]"
            )
        if not lines:
            return b""
    return "\n".join(lines).encode()


@st.composite
def spoiled_bytes(draw: st.DrawFn) -> bytes:
    """A shipped example with random bytes put in or cut out."""
    raw = draw(st.sampled_from(BASES)).encode()
    start = draw(st.integers(0, len(raw)))
    return raw[:start] + draw(st.binary(max_size=12)) + raw[start + draw(st.integers(0, 40)) :]


@st.composite
def any_tables(draw: st.DrawFn) -> bytes:
    """Keys of the schema with values of any kind and size."""
    keys = [line.partition("=")[0].strip() for line in WHOLE.splitlines() if " = " in line]
    tables = [
        "polymer",
        "heater",
        "block",
        "nozzle",
        "heat_break",
        "sleeve",
        "wrap",
        "surroundings",
        "contacts",
        "mesh",
    ]
    lines = ['extends = "short-block"']
    for table in draw(st.lists(st.sampled_from(tables), unique=True, max_size=4)):
        lines.append(f"[{table}]")
        for name in draw(st.lists(st.sampled_from(keys), unique=True, max_size=4)):
            number = draw(st.floats(0.0, 50.0) | st.floats() | st.integers())
            unit = draw(st.sampled_from(["mm", "degC", "K", "deg", "W", "um", "W/m^2/K", "m/s", "kg", "", "furlong"]))
            lines.append(f'{name} = "{number} {unit}"')
    return "\n".join(lines).encode()


@st.composite
def own_cards(draw: st.DrawFn) -> bytes:
    """A case with a material card of its own whose entries are of any kind."""
    like = draw(st.sampled_from(["", 'like = "pla"', 'like = "brass"', "like = 3"]))
    lines = ['extends = "short-block"', "[polymer]", 'material = "mine"', "[materials.mine]", like]
    row = st.lists(st.sampled_from([*VALUES, "20", "100", "200", '"100 degC"', "0.2"]), max_size=3)
    for name in draw(st.lists(st.sampled_from(CARD_KEYS), unique=True, max_size=4)):
        if draw(st.booleans()):
            lines.append(f"{name} = {draw(st.sampled_from(ENTRIES))}")
        else:
            hot, values = ", ".join(draw(row)), ", ".join(draw(row))
            lines.append(f'{name} = {{ temperature = [{hot}], values = [{values}], unit = "W/m/K" }}')
    return "\n".join(lines).encode()


@SETTINGS
@given(own_cards())
def test_own_cards(raw: bytes) -> None:
    _check(raw)


@SETTINGS
@given(mutated_lines())
def test_mutated_examples(raw: bytes) -> None:
    _check(raw)


@SETTINGS
@given(spoiled_bytes())
def test_spoiled_bytes(raw: bytes) -> None:
    _check(raw)


@SETTINGS
@given(any_tables())
def test_any_values(raw: bytes) -> None:
    _check(raw)


@SETTINGS
@given(st.binary(max_size=200))
def test_random_bytes(raw: bytes) -> None:
    _check(raw)


@SETTINGS
@given(st.dictionaries(KEYS | st.text(), st.sampled_from(["210 degC", 3, None, True, False, [], {}, 1e400, "2 mm"])))
def test_any_overrides(overrides: dict[str, object]) -> None:
    try:
        problem_of(load_case("short-block", overrides))
    except CaseError as error:
        assert error.key is not None
