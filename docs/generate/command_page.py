"""The reference page of the commands, generated from the command line itself."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from typer.main import get_command

from meltzone.cases.commands.cli import app

PAGE = Path(__file__).resolve().parents[1] / "commands.md"

INTRODUCTION = """# The commands

This page is generated from the command line (`python docs/regenerate.py`); `meltzone COMMAND --help` says the
same in the terminal.

Results go to standard output, progress and errors to standard error. Progress is shown on terminals only.
Errors name the file, the line, the key, the value, what was expected and what to do.

`--out` is the folder of the results, `--to` the one file that a command writes, `--plot` a picture, `--csv` a table; `--json`
prints the record on standard output in place of the tables. Where a command writes one file or picture, `--out` names that too.
"""


def command_page() -> str:
    """The whole page as Markdown."""
    group: Any = get_command(app)
    sections = [INTRODUCTION, _plain(group.epilog) + "\n"]
    sections += [_section(name, command) for name, command in group.commands.items()]
    return "\n".join(sections)


def _section(name: str, command: Any) -> str:
    options = [param for param in command.params if param.param_type_name == "option"]
    arguments = [param for param in command.params if param.param_type_name == "argument"]
    usage = " ".join(["meltzone", name, *(_argument(param) for param in arguments), "[OPTIONS]" if options else ""])
    lines = [f"## meltzone {name}", "", _plain(command.help), "", "```", usage.strip(), "```", ""]
    lines += ["| argument or option | meaning |", "|---|---|"]
    lines += [f"| `{_argument(param)}` | {_plain(param.help)} |" for param in arguments]
    lines += [
        f"| `{_option(param)}` | {_plain(param.help)}{_must(param)} |" for param in options if param.name != "help"
    ]
    examples = [line.strip() for line in (command.epilog or "").splitlines()[1:] if line.strip()]
    return "\n".join([*lines, "", "```sh", *examples, "```", ""])


def _argument(param: Any) -> str:
    return str(param.metavar) if param.required else f"[{param.metavar}]"


def _option(param: Any) -> str:
    return param.opts[0] if param.is_flag else f"{param.opts[0]} {param.metavar}"


def _must(param: Any) -> str:
    return " Required." if param.required else ""


def _plain(text: str | None) -> str:
    """Help without the marks that make parts of it bold in the terminal; those parts are code on the page."""
    return re.sub(r"\[/?bold\]", "`", text or "").strip()
