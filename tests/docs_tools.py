"""Keeps the docs true: output shown in them is what the code prints, and generated pages are generated.

`python tests/docs_tools.py` rewrites them; the tests only compare.
"""

from __future__ import annotations

import contextlib
import importlib
import io
import os
import re
import shlex
import sys
import tempfile
from pathlib import Path

from plumbline import catalogue
from plumbline.cli import main as plumbline

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
_BLOCK = re.compile(r"```console\n\$ (plumbline [^\n]*)\n(.*?)```", re.DOTALL)
_MADE = re.compile(r"<!-- made by tests/(\w+)\.py: (\w+) -->\n(.*?)<!-- end -->", re.DOTALL)


def printed(command: str) -> str:
    """What a command prints where `layouts` is, spaces at line ends trimmed; what it writes is thrown away."""
    out = io.StringIO()
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        os.symlink(ROOT / "layouts", "layouts")
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            plumbline(shlex.split(command)[1:])
    return "\n".join(line.rstrip() for line in out.getvalue().rstrip("\n").split("\n"))


def refreshed(page: Path) -> str:
    """The page with the output of its commands as it is now. A block that ends in `…` shows the beginning only."""

    def again(match: re.Match[str]) -> str:
        command, shown = match.group(1), match.group(2)
        lines = printed(command).split("\n")
        if shown.rstrip().endswith("…"):
            lines = [*lines[: max(shown.rstrip("\n").count("\n"), 1)], "…"]
        return f"```console\n$ {command}\n" + "\n".join(lines) + "\n```"

    text = page.read_text(encoding="utf-8")
    if page.name == "findings.md":
        return findings_page()
    text = _BLOCK.sub(again, text)
    if page.name == "score.md":
        return WEIGHED.sub(lambda match: f"{match[1]}{weights_table()}{match[3]}", text)
    return _MADE.sub(
        lambda match: f"<!-- made by tests/{match[1]}.py: {match[2]} -->\n{_made(match[1], match[2])}\n<!-- end -->",
        text,
    )


def _made(module: str, what: str) -> str:
    """A table that another module of the tests works out."""
    return str(getattr(importlib.import_module(module), what)())


def findings_page() -> str:
    """The page of finding kinds, from the catalogue."""
    out = [
        "# Kinds of finding",
        "",
        "<!-- Made from plumbline/catalogue/findings.yaml and limits.yaml by tests/docs_tools.py. -->",
        "",
        "`plumbline explain KIND` prints the same. *fail*: the system does not do its job; *warn*: it will give trouble;",
        "*advice*: worth knowing. *Looked up* means read in a stored text, in a library's documentation or in the",
        "layout itself, *at second hand* that another text quotes it; *from memory* means that the source is to be confirmed.",
        "",
    ]
    limits = catalogue.limits()
    for row in catalogue.findings().values():
        out += [f"## {row.kind}", "", f"**{row.title.capitalize()}** ({row.level}). It is said when {row.rule}", ""]
        out += [f"Source: {row.source} ({row.mark}).", ""]
        if catalogue.sources(row.kind) != (row.source,):
            out += [*(f"- {source}." for source in catalogue.sources(row.kind)), ""]
        for name in row.limits:
            limit = limits[name]
            out += [f"- Limit `{name}`: {limit.shown}. {limit.meaning.capitalize()}. {limit.source} ({limit.mark})."]
            if limit.others:
                out[-1] += f" Others: {limit.others}."
        if row.limits:
            out.append("")
        doubt = str(row.extra.get("doubt", "none"))
        if doubt != "none":
            out += [f"Doubt: {doubt}.", ""]
    return "\n".join(out).rstrip("\n") + "\n"


LAYOUTS = sorted((ROOT / "layouts").glob("*.yaml"))
SMALL = 440.0
PICTURES = {
    "tangle.svg": ("tangle", 960.0),
    **{f"pictures/{path.stem}.svg": (path.stem, SMALL) for path in LAYOUTS},
}
"""Pictures in docs/, each by the layout that it shows and how wide it is [px]."""


def picture(name: str) -> str:
    """A picture as the code draws it now."""
    from checks import checked

    from plumbline.page.sketch import sketch
    from plumbline.page.sketch.svg import standalone

    layout, width = PICTURES[name]
    return standalone(sketch(checked(layout), width=width))


WEIGHED = re.compile(r"(<!-- weights -->\n)(.*?)(<!-- end -->)", re.DOTALL)


def weights_table() -> str:
    """What each kind costs, the dearest first, from the catalogue."""
    levels = catalogue.findings()
    out = ["| kind | level | weight | per | why |", "| --- | --- | --- | --- | --- |"]
    for row in sorted(catalogue.weights().values(), key=lambda row: -row.value):
        why = row.reason
        for case in (row.worse, row.milder):
            why += f"; {case[0]:g} where {case[1]}" if case is not None else ""
        if row.unless:
            why += f"; nothing where {' or '.join(f'`{kind}`' for kind in row.unless)} is told of the same line"
        link = f"[{row.kind}](findings.md#{row.kind})"
        out.append(f"| {link} | {levels[row.kind].level} | {row.value:g} | {row.per} | {why} |")
    return "\n".join(out) + "\n"


def gallery() -> str:
    """Every layout: a small sketch, what it is in the first words of its own, what it asks, and the command that answers."""
    out = ["| | what it is | what it asks |", "| --- | --- | --- |"]
    for path in LAYOUTS:
        head = path.read_text(encoding="utf-8").partition("\nname:")[0]
        told = [" ".join(re.sub(r"^#", "", one, flags=re.MULTILINE).split()) for one in head.split("\n#\n")]
        says = next(one for one in told if not one.startswith(("Expect", "Ask")))
        says = re.match(r".{40,}?[.](?= |$)|.*", says)[0]  # type: ignore[index]
        asks, command = re.search(r"Ask: (.*[?]) (plumbline .*)", told[-1]).groups()  # type: ignore[union-attr]
        shown = f'<img src="pictures/{path.stem}.svg" width="280" alt="sketch of {path.stem}">'
        out.append(f"| {shown} | [`{path.stem}`](../layouts/{path.name}): {says} | {asks} `{command}` |")
    return "\n".join(out)


def main() -> None:
    """Rewrite every page and picture that is out of step."""
    for name in PICTURES:
        path = ROOT / "docs" / name
        drawn = picture(name)
        path.parent.mkdir(exist_ok=True)
        if not path.exists() or path.read_text(encoding="utf-8") != drawn:
            path.write_text(drawn, encoding="utf-8")
            print(f"rewrote docs/{name}", file=sys.stderr)
    findings = ROOT / "docs" / "findings.md"
    if not findings.exists():
        findings.write_text("", encoding="utf-8")
    for page in {*PAGES, findings}:
        text = refreshed(page)
        if text != page.read_text(encoding="utf-8"):
            page.write_text(text, encoding="utf-8")
            print(f"rewrote {page.relative_to(ROOT)}", file=sys.stderr)


if __name__ == "__main__":
    main()
