"""Bad input: each class gives one CaseError that names file, line, key, value, expectation and hint."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import LARGEST_FILE
from meltzone.cases.inputs.reader import load_case

NOBODY = 65534  # the user without rights of Linux and of most other systems
HEAD = '[heater]\nsetpoint = "210 degC"\n'  # two lines: what follows starts on line 3
OWN = HEAD + '[nozzle]\nmaterial = "bronze"\n[materials.bronze]\nlike = "brass"\n'


def _error(path: Path | str) -> CaseError:
    with pytest.raises(CaseError) as caught:
        problem_of(load_case(path))
    return caught.value


def _error_of(folder: Path, content: str | bytes) -> CaseError:
    path = folder / "bench.toml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    error = _error(path)
    assert error.file == str(path)
    return error


# text, line, key, value as shown, words of the expectation, words of the hint
BAD_KEYS = {
    "unknown key": (
        HEAD + '[nozzle]\nlenght = "12 mm"\n', 4, "nozzle.lenght", '"12 mm"', "a key of [nozzle]", "length?",
    ),
    "unknown table": (
        HEAD + "[nozle]\n", 3, "nozle", "a table with no keys", "a key of a case", "Did you mean nozzle?",
    ),
    "key of another table": (
        HEAD + '[block]\nsetpoint = "9 K"\n', 4, "block.setpoint", '"9 K"', "a key of [block]", "is a key of [heater]",
    ),
    "table below a table": (
        HEAD + "sleeve = false\n", 3, "heater.sleeve", "false", "a key of [heater]", "above the first [table]",
    ),
    "no setpoint": ('[nozzle]\nbore = "2 mm"\n', None, "heater.setpoint", None, "no default", 'setpoint = "210 degC"'),
    "no setpoint in the table": (
        '\n[heater]\nrating = "40 W"\n', 2, "heater.setpoint", None, "no default", "below [heater]",
    ),
    "bare number": (
        HEAD + "[block]\nheight = 12\n", 4, "block.height", "12", 'a length with its unit, as in "12.5 mm"',
        'Write "12 mm"',
    ),
    "wrong unit": (
        HEAD + '[block]\nheight = "12 s"\n', 4, "block.height", '"12 s"', "a length", "not a unit of length",
    ),
    "not a whole number of channels": (
        HEAD + "[channels]\nnumber = 2.5\n", 4, "channels.number", "2.5", "a whole number from 2 to 12", "as in 2",
    ),
    "channels in text": (
        HEAD + '[channels]\nnumber = "3"\n', 4, "channels.number", '"3"', "a whole number from 2 to 12", "without unit",
    ),
    "channels that run into one another": (
        HEAD + '[channels]\nnumber = 6\nhole_diameter = "0.9 mm"\n', 5, "channels.hole_diameter", '"0.9 mm"',
        "small enough to leave webs", "fewer holes",
    ),
    "a mesh that no memory holds": (
        HEAD + '[block]\nwidth = "400 mm"\ndepth = "400 mm"\nheight = "200 mm"\n[mesh]\nlevel = 3\n', 8, "mesh.level", "3",
        "at most 400,000 unknowns", "Lower it",
    ),
    "channels that nobody drills": (
        HEAD + '[channels]\nhole_diameter = "5 um"\n', 4, "channels.hole_diameter", '"5 um"', "at least 0.1 mm", "drilled",
    ),
    "channels into the cone": (
        HEAD + '[channels]\nlength = "9 mm"\n', 4, "channels.length", '"9 mm"', "straight bore", "above the inner cone",
    ),
    "a solved velocity with channels": (
        HEAD + '[polymer]\nprofile = "solved"\n[channels]\nnumber = 3\n', 4, "polymer.profile", '"solved"',
        'or "shaped" with [channels]', 'Take "shaped"',
    ),
    "difference in degC": (
        HEAD + '[materials.pla]\nlike = "pla"\nmelting_width = "9 degC"\n',
        5, "materials.pla.melting_width", '"9 degC"', "1 K to 150 K", "write K",
    ),
    "not a number": (HEAD + "[block]\nheight = nan\n", 4, "block.height", "nan", "a length", "as one string"),
    "infinite": (HEAD + '[block]\nheight = "inf mm"\n', 4, "block.height", '"inf mm"', "a length", "finite number"),
    "huge": (
        HEAD + '[block]\nheight = "1e99 mm"\n', 4, "block.height", '"1e99 mm"', "a length", "out of all proportion",
    ),
    "out of range": (
        '[heater]\nsetpoint = "2100 degC"\n', 2, "heater.setpoint", '"2100 degC"', "from 50 degC", "Check",
    ),
    "ratio out of range": (
        HEAD + "[surroundings]\nemissivities = { block = 2 }\n",
        4, "surroundings.emissivities.block", "2", "a plain number from 0 to 1", "without unit",
    ),
    "ratio in quotes": (
        HEAD + '[mesh]\nlevel = "1"\n', 4, "mesh.level", '"1"', "a plain number", "without unit and quotes",
    ),
    "word not among the choices": (
        HEAD + '[polymer]\ncriterion = "cor"\n', 4, "polymer.criterion", '"cor"', '"core", "inner" or "mean"',
        'Did you mean "core"?',
    ),
    "not true or false": (
        HEAD + '[surroundings]\nfan = "on"\n', 4, "surroundings.fan", '"on"', "true or false", "quotes",
    ),
    "not a list": (HEAD + '[wrap]\ncovers = "block"\n', 4, "wrap.covers", '"block"', "a list", "in brackets"),
    "wrong item": (
        HEAD + '[wrap]\ncovers = ["blok"]\n', 4, "wrap.covers", '["blok"]', '"block" or "nozzle"', '"block"?',
    ),
    "number beyond TOML": (
        HEAD + "[mesh]\nlevel = 0x" + "f" * 300 + "\n",
        4, "mesh.level", "a number of more than 30 digits", "64 bits", "TOML",
    ),
    "not text": ("title = 3\n" + HEAD, 1, "title", "3", "text", "quotes"),
    "title of two lines": ('title = "a\\nb"\n' + HEAD, 1, "title", '"a?b"', "one line", "line breaks"),
    "not a table": ("nozzle = 3\n" + HEAD, 1, "nozzle", "3", "a table", "[nozzle]"),
    "table set to true": ("sleeve = true\n" + HEAD, 1, "sleeve", "true", "or false to drop", "[sleeve]"),
    "array of tables": (HEAD + "[[nozzle]]\n", 3, "nozzle", "[a table with no keys]", "a table", "[nozzle]"),
    "impossible dimension": (
        'extends = "long-nozzle-bare"\n[sleeve]\nheight = "12 mm"\n',
        3, "sleeve.height", '"12 mm"', "at most the exposed thread between block and hexagon, 9 mm", "longer nozzle",
    ),
    "dimension that the part calls otherwise": (
        HEAD + 'ring_radius = "11 mm"\n', 3, "heater.ring_radius", '"11 mm"', "equivalent disc", "inwards",
    ),
    "impossible default": (
        HEAD + '[block]\nheight = "7 mm"\n',
        None, "nozzle.exposed", '"5 mm" (the default, not written in the case)', "at least 0.5 mm", "taller block",
    ),
    "liner in a thin neck": (
        HEAD + '[liner]\nouter_diameter = "4 mm"\n',
        4, "liner.outer_diameter", '"4 mm"', "at least 0.1 mm below the neck of 3 mm", "heat_break.neck_diameter",
    ),
    "liner beyond the heat break": (
        HEAD + '[heat_break]\nneck_diameter = "4.5 mm"\n[liner]\nend = "5 mm"\n',
        6, "liner.end", '"5 mm"', "the heat break's 4 mm in the block", "down to the nozzle",
    ),
    "taper without a lower bore": (
        HEAD + '[nozzle]\ntaper_length = "2 mm"\n', 4, "nozzle.taper_length", '"2 mm"', "nozzle.lower_bore beside it",
        "plain bore",
    ),
    "lower bore longer than the nozzle": (
        HEAD + '[nozzle]\nlower_bore = "1.5 mm"\nlower_bore_length = "12 mm"\n',
        5, "nozzle.lower_bore_length", '"12 mm"', "the nozzle's upper face", "45 degrees",
    ),
    "step too wide for the heat break": (
        HEAD + '[nozzle]\nlength = "16 mm"\n[heat_break]\nbore = "2.6 mm"\n',
        6, "heat_break.bore", '"2.6 mm"', "at most 0.5 mm wider than the bore below it", "45 degrees",
    ),
    "unknown polymer": (
        HEAD + '[polymer]\nmaterial = "petgg"\n', 4, "polymer.material", '"petgg"', "a polymer", "petg",
    ),
    "metal as polymer": (
        HEAD + '[polymer]\nmaterial = "brass"\n', 4, "polymer.material", '"brass"', "a polymer", "of the other kind",
    ),
    "unknown solid": (HEAD + '[nozzle]\nmaterial = "bras"\n', 4, "nozzle.material", '"bras"', "a solid", "brass"),
    "empty name": (HEAD + '[nozzle]\nmaterial = ""\n', 4, "nozzle.material", '""', "at least one character", "a name"),
    "own card of the other kind": (
        OWN.replace("brass", "pla"), 4, "nozzle.material", '"bronze"', "a solid", "of the other kind",
    ),
    "own card: unknown key": (
        OWN + 'conductivty = "3 W/m/K"\n', 7, "materials.bronze.conductivty", '"3 W/m/K"', "one of the keys",
        "conductivity?",
    ),
    "own card: wrong unit": (
        OWN + 'conductivity = "3 mm"\n', 7, "materials.bronze.conductivity", '"3 mm"', "with its unit", "W/m/K",
    ),
    "unknown face": (
        HEAD + '[surroundings]\nfilms = { block_tp = "3 W/m^2/K" }\n',
        4, "surroundings.films.block_tp", '"3 W/m^2/K"', "a face of the hot end", '"block top"',
    ),
    "jet on no face": (
        HEAD + '[surroundings]\njet_reaches = ["nose"]\n',
        4, "surroundings.jet_reaches", '["nose"]', "a face of the hot end", "underscores",
    ),
    "unknown part": (
        HEAD + "[surroundings.emissivities]\nblok = 0.1\n",
        4, "surroundings.emissivities.blok", "0.1", "a part of the hot end", '"block"',
    ),
    "setpoint beyond a table": (
        '[heater]\nsetpoint = "330 degC"\n', 2, "heater.setpoint", '"330 degC"', "conductivity, 0 degC to 320 degC",
        "wider",
    ),
    "filament enters molten": (
        HEAD + '[polymer]\ninlet_temperature = "150 degC"\n',
        4, "polymer.inlet_temperature", '"150 degC"', "below the softening temperature", "room",
    ),
    "softens after it flows": (
        HEAD + '[polymer]\nsoftening_temperature = "190 degC"\n',
        4, "polymer.softening_temperature", '"190 degC"', "at most the flow temperature", "softens before it flows",
    ),
    "extends nothing": (
        'extends = "shrt-block"\n', 1, "extends", '"shrt-block"', "name of a shipped example", "short-block",
    ),
    "extends a number": ("extends = 3\n", 1, "extends", "3", "a file name", "Shipped examples: "),
    "extends itself": ('\nextends = "bench.toml"\n', 2, "extends", '"bench.toml"', "none of them twice", "circle"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_KEYS)
def test_bad_keys_and_values(tmp_path: Path, name: str) -> None:
    text, line, key, value, expected, hint = BAD_KEYS[name]
    error = _error_of(tmp_path, text)
    assert (error.line, error.key, error.value) == (line, key, value)
    assert expected in error.expected
    assert hint in error.hint


# content, line, words of value and expectation and hint together
BAD_FILES: dict[str, tuple[str | bytes, int | None, str]] = {
    "value without quotes": (
        "[heater]\nsetpoint = 210 degC\n",
        2,
        "at column 16. Text and values with a unit stand in quotes",
    ),
    "open string": ('[heater]\nsetpoint = "210 degC\n', 2, "a valid TOML file"),
    "open table": ("\n\n[heater", 3, "a valid TOML file"),
    "key twice": ('title = "a"\ntitle = "b"\n', 2, "a valid TOML file"),
    "not UTF-8": (b'title = "x"\n# \xff\n', 2, "byte 0xff"),
    "UTF-8 with byte order mark": (b'\xef\xbb\xbftitle = "x"\n', 1, "without a byte order mark"),
    "UTF-16": ('title = "x"\n'.encode("utf-16"), 1, "without a byte order mark"),
    "null byte": (b'title = "\x00"\n', 1, "a valid TOML file"),
    "too large": (b"#" * (LARGEST_FILE + 1), None, "below 1 MB"),
    "too deep": ("a" + ".a" * 2000 + " = 1\n", None, "within one another"),
    "too deep lists": ("a = " + "[" * 3000 + "]" * 3000, None, "within one another"),
    "endless number": ("a = " + "1" * 9000, None, "thousands of digits"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_files(tmp_path: Path, name: str) -> None:
    content, line, words = BAD_FILES[name]
    error = _error_of(tmp_path, content)
    assert error.line == line
    assert words in f"{error.value} {error.expected} {error.hint}"


def test_missing_file_suggests_files_beside_it_and_examples(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(HEAD, encoding="utf-8")
    error = _error(tmp_path / "bensh.toml")
    assert str(tmp_path / "bench.toml") in error.hint
    assert "short-block" in error.hint
    assert "short-block" in _error("shortblock").hint


def test_folder_device_and_null_in_the_name(tmp_path: Path) -> None:
    assert "not a folder" in _error(tmp_path).expected
    assert "existing case file" in _error("a\0b").expected
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    assert "an ordinary file" in _error(pipe).expected


@contextmanager
def _without_privileges() -> Iterator[None]:
    """With the rights of any other user where root runs the tests, since root may read everything."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def test_file_without_permission() -> None:
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        path = Path(folder) / "locked.toml"
        path.write_text(HEAD, encoding="utf-8")
        problem_of(load_case(path))
        with _without_privileges():
            assert path.read_text(encoding="utf-8") == HEAD, "the folder is no hindrance"
        path.chmod(0)
        with _without_privileges():
            assert "a readable file" in _error(path).expected


def test_read_error_of_the_system_is_passed_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(HEAD, encoding="utf-8")

    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", refuse)
    error = _error(path)
    assert (error.expected, error.hint) == ("a readable file", "The system says: Permission denied.")


def test_chain_that_never_ends(tmp_path: Path) -> None:
    for number in range(25):
        (tmp_path / f"{number}.toml").write_text(f'extends = "{number + 1}.toml"\n', encoding="utf-8")
    error = _error(tmp_path / "0.toml")
    assert (error.line, error.key) == (1, "extends")
    assert "at most 20 files" in error.expected


def test_an_inherited_slip_is_found_in_the_file_that_holds_it(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text(HEAD + '[block]\n\nheight = "12 mn"\n', encoding="utf-8")
    (tmp_path / "top.toml").write_text('extends = "base.toml"\n[block]\nwidth = "24 mm"\n', encoding="utf-8")
    error = _error(tmp_path / "top.toml")
    assert (error.file, error.line, error.key) == (str(tmp_path / "base.toml"), 5, "block.height")


def test_dotted_quoted_and_inline_spellings_are_located(tmp_path: Path) -> None:
    for text, line in (
        ('heater.setpoint = "210 degC"\nblock.height = 12\n', 2),
        ('heater.setpoint = "210 degC"\n["block"]\n"height" = 12\n', 3),
        ('heater.setpoint = "210 degC"\nblock = { width = "23 mm", height = 12 }\n', 2),
        ('heater.setpoint = "210 degC"\r\n[ block ]\r\n  height=12\r\n', 3),
    ):
        error = _error_of(tmp_path, text)
        assert (error.line, error.key, error.value) == (line, "block.height", "12")


def test_the_whole_message(tmp_path: Path) -> None:
    error = _error_of(tmp_path, HEAD + '[block]\nheight = "12 mn"\n')
    assert str(error) == "\n".join(
        [
            f"{tmp_path / 'bench.toml'}, line 4",
            "  key:      block.height",
            '  value:    "12 mn"',
            '  expected: a length with its unit, as in "12.5 mm"',
            '  hint:     "mn" is not a unit of length.',
        ]
    )


def test_control_characters_do_not_reach_the_terminal(tmp_path: Path) -> None:
    error = _error_of(tmp_path, HEAD + '"\\u001b[31m" = 3\n')
    assert "\x1b" not in str(error)
