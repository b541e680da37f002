"""What stands behind a run, as BibTeX: the program, the sources of the cards in use, its methods and correlations."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from importlib.metadata import version

from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.cases.studies.cited import CORRELATIONS, METHODS, Work
from meltzone.cases.studies.results import Result
from meltzone.fem.problem import Problem

_DOI = re.compile(r"\b(10\.\d{4,9}/[^\s,;]+)")
_SPECIAL = str.maketrans({"&": r"\&", "%": r"\%", "#": r"\#", "_": r"\_", "{": r"\{", "}": r"\}", "$": r"\$", "~": " "})


def bibliography(found: Result | Problem) -> str:
    """All works that the numbers of a run rest on, as BibTeX; what came "from memory" or from practice is told as a comment.

    A card's source goes in as it is written there, with its DOI where it names one.
    """
    problem = found.problem if isinstance(found, Result) else found
    works = [_program(), *(each for each in (*METHODS, *CORRELATIONS) if each.used(problem))]
    cited, weak = _of_cards(problem)
    entries = [_entry(each.key, each.kind, dict(each.fields)) for each in works]
    entries += [_entry(f"card{number}", "misc", fields) for number, fields in enumerate(cited, start=1)]
    note = "".join(f"% without a publication: {printable(text)}\n" for text in weak)
    return "\n".join(entries) + ("\n" + note if note else "")


def _program() -> Work:
    number = version("meltzone")
    fields = {"author": "{The meltzone developers}", "title": "meltzone: flow ceilings of filament-extrusion hot ends"}
    return Work("meltzone", "software", tuple({**fields, "version": number}.items()))


def _of_cards(problem: Problem) -> tuple[list[dict[str, str]], list[str]]:
    """Fields of every source of the cards in use, each once, and those that are none."""
    from meltzone.cases.outputs.materials import badge_of

    used: dict[str, list[str]] = {}
    weak: dict[str, list[str]] = {}
    cards = {card.key: card for card in materials_by_part(problem).values()}
    for card in cards.values():
        for key, text in card.sources.items():
            for source in _parts(text):
                (weak if badge_of(source) else used).setdefault(source, []).append(
                    f"{card.label}: {key.replace('_', ' ')}"
                )
    found = []
    for source, uses in used.items():
        fields = {"title": f"{{{_plain(source)}}}", "note": _plain("Used for " + _joined(uses))}
        doi = _DOI.search(source)
        if doi:
            fields["doi"] = doi.group(1).rstrip(".:)")
        found.append(fields)
    return found, [f"{_joined(uses)}: {source}" for source, uses in weak.items()]


def _parts(text: str) -> Iterator[str]:
    """The sources that a card names together."""
    for part in " ".join(text.split()).split("; "):
        if part and not part.startswith(("held from", "held up", "the slope")):
            yield part


def _joined(uses: Iterable[str]) -> str:
    known = list(dict.fromkeys(uses))
    return ", ".join(known[:6]) + (f" and {len(known) - 6} more" if len(known) > 6 else "")


def _plain(text: str) -> str:
    return printable(text).translate(_SPECIAL)


def _entry(key: str, kind: str, fields: dict[str, str]) -> str:
    rows = "".join(f"  {name} = {{{value}}},\n" for name, value in fields.items())
    return f"@{kind}{{{key},\n{rows}}}\n"
