"""The command explore; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, show, tell
from meltzone.cases.commands.options import CASE_HELP
from meltzone.cases.commands.registry import command

BeginOption = Annotated[str, typer.Argument(metavar="[CASE]", help=CASE_HELP, show_default=False)]
PortOption = Annotated[
    int, typer.Option("--port", metavar="N", min=0, max=65535, help="The port to answer at; 0 takes any that is free.")
]
ShareOption = Annotated[
    bool,
    typer.Option("--share", help="Let other machines of the local network in, a phone at the bench, with a token."),
]
BrowserOption = Annotated[bool, typer.Option("--no-browser", help="Print the address and open no browser.")]
SHARED = (
    "Shared: whoever has this address can solve cases and write bench sheets in this folder, as long as the command runs. It "
    "travels unencrypted: use it in a network that you trust, and give it to nobody else. Each start makes a new one."
)


@command("Decide", "meltzone explore", "meltzone explore my.toml --share")
def explore(
    case: BeginOption = "short-block",
    port: PortOption = 8765,
    share: ShareOption = False,
    no_browser: BrowserOption = False,
) -> None:
    """Open a page in the browser to change a case and see the answer at once; bench sheets are filled in there too.

    The page comes from this machine and needs no network. It reads and writes nothing outside the current folder. Ctrl-C ends
    it. It needs the extra explore: pip install 'meltzone[explore]'.
    """
    with answering():
        from meltzone.cases.explore.serving import opened, serve  # see the first line

        found = opened(case, port, share, Path.cwd())

        def ready() -> None:
            show(f"The page: {found.here}")
            if found.elsewhere:
                show(f"For others: {found.elsewhere}")
                tell(SHARED)
            if not no_browser:
                import webbrowser

                webbrowser.open(found.here)

        serve(found, ready)
