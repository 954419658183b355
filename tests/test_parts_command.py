"""The command: prices from a file, what it prints, the CSV file, the JSON object, and what it says to what is wrong."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from plumbline import read_layout
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.files import new_file
from plumbline.layout.model import Layout
from plumbline.layout.rewrite import quoted
from plumbline.parts import bill_of, cost_of, csv_text, plan_for, plan_of, read_price_file
from plumbline.parts.price_file import size_word
from plumbline.parts.table import COLUMNS

ReadText = Callable[[str], Layout]
COURTYARD = Path(__file__).parent.parent / "layouts" / "courtyard.yaml"
PRICES = """\
currency: EUR
stock: 3 m
pipe:
  pvc 25: 4.20
  pvc 32mm: 5.00
  pvc 63: {price: 30, length: 6 m}
elbow: {pvc 25: 0.40}
elbow 45: {pvc 25: 0.5, pvc 63: 2.25}     # the catalogue's other word for a bend of 45°
tee: {pvc 32: 0.9}
cap: {pvc 32: 3, pvc 63: 7.5}
union: {pvc 32: 4, pvc 25: 3.1}
reducing bush: {pvc 25 x pvc 32: 0.35}
bulkhead: {pvc 63: 9}
pump adapter: {pvc 32: 1.8}
"""
# By hand: 4 × 0.5, 4 × 2.25, 0.9, 3, 2 × 7.5, 4, 2 × 3.1, 2 × 0.35, 2 × 9, 1.8, and pipe 4.2 + 5 + 30.
TOTAL = 2 + 9 + 0.9 + 3 + 15 + 4 + 6.2 + 0.7 + 18 + 1.8 + 39.2


@pytest.fixture
def prices(tmp_path: Path) -> Callable[..., Path]:
    def write(text: str, name: str = "prices.yaml") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["parts", *words]) == 0
    return capsys.readouterr().out


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# ---------------------------------------------------------------------- prices


@pytest.mark.second_method
def test_a_bill_priced_by_hand(prices: Callable[..., Path]) -> None:
    bill = bill_of(read_layout(COURTYARD))
    own = read_price_file(prices(PRICES))
    costs = cost_of(bill, plan_for(bill, own), own)
    assert (costs.currency, costs.placeholders, costs.missing) == ("EUR", False, ())
    assert costs.total == pytest.approx(TOTAL, abs=0.005)


@pytest.mark.second_method
def test_the_same_prices_as_csv(prices: Callable[..., Path]) -> None:
    bill = bill_of(read_layout(COURTYARD))
    own = read_price_file(prices(PRICES))
    rows = [
        f"{kind},{size},{row.price},{f'{row.length:g} m' if row.length else '3 m' if kind == 'pipe' else ''},EUR"
        for (kind, size), row in own.rows.items()
    ]
    comma = read_price_file(prices("\ufeffitem,size,price,length,currency\r\n" + "\r\n".join(rows), "p.csv"))
    semicolon = "item;size;price;length;currency\n" + "\n".join(rows).replace(",", ";").replace(".", ",")
    semi = read_price_file(prices(semicolon, "q.CSV"))
    for read in (comma, semi):
        assert cost_of(bill, plan_for(bill, read), read).total == pytest.approx(TOTAL, abs=0.005)
        assert read.currency == "EUR"


@pytest.mark.pinned
@pytest.mark.parametrize(("text", "noted"), [(PRICES, False), (PRICES.replace("currency: EUR\n", ""), True)])
def test_a_price_file_without_a_currency_is_told(
    prices: Callable[..., Path], capsys: pytest.CaptureFixture[str], text: str, noted: bool
) -> None:
    path = prices(text)
    own = read_price_file(path)
    bill = bill_of(read_layout(COURTYARD))
    costs = cost_of(bill, plan_for(bill, own), own)
    assert costs.notes == ((f"'{path}' names no currency.",) if noted else ())
    assert costs.total == pytest.approx(TOTAL, abs=0.005)
    said = " ".join(printed(capsys, str(COURTYARD), "--prices", str(path)).split())
    assert ("names no currency" in said) == noted


@pytest.mark.pinned
def test_without_a_file_everything_is_a_placeholder(capsys: pytest.CaptureFixture[str]) -> None:
    bill = bill_of(read_layout(COURTYARD))
    costs = cost_of(bill, plan_of(bill))
    assert costs.placeholders
    assert not costs.currency
    out = printed(capsys, str(COURTYARD))
    assert "cost" not in out
    assert (
        f"With placeholders, which come from\nno shop and are in no currency, all this would make {costs.total:.2f}."
        in out
    )


@pytest.mark.pinned
def test_what_has_no_price_is_listed_and_never_made_up(
    prices: Callable[..., Path], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = prices(PRICES.replace("bulkhead: {pvc 63: 9}\n", "").replace("  pvc 25: 4.20\n", ""))
    monkeypatch.chdir(path.parent)
    out = printed(capsys, str(COURTYARD), "--prices", path.name)
    assert f"Together {TOTAL - 18 - 4.2:.2f} EUR, by 'prices.yaml', without the 2 that it has no price for:\n" in out
    assert "  bulkhead fitting, pvc 63: no price in the file\n  pipe, pvc 25: no price in the file\n" in out
    assert "placeholder" not in out


@pytest.mark.pinned
def test_a_price_for_another_length_is_no_price(prices: Callable[..., Path]) -> None:
    bill = bill_of(read_layout(COURTYARD))
    own = read_price_file(prices(PRICES))
    costs = cost_of(bill, plan_for(bill, own, stock=4.0), own)
    assert [(row.size, row.missing) for row in costs.missing] == [
        ("pvc 32", "the file's price is for 3 m"),
        ("pvc 25", "the file's price is for 3 m"),
    ]
    plan = plan_for(bill, own)
    assert {row.pipe.name: row.stock for row in plan.sizes} == {"pvc 63": 6.0, "pvc 32": 3.0, "pvc 25": 3.0}


@pytest.mark.pinned
def test_the_file_says_what_pipe_is_sold_in(prices: Callable[..., Path]) -> None:
    bill = bill_of(read_layout(COURTYARD))
    own = read_price_file(prices(PRICES.replace("stock: 3 m", "stock: 4 m")))
    plan = plan_for(bill, own)
    assert {row.pipe.name: row.stock for row in plan.sizes} == {"pvc 63": 6.0, "pvc 32": 4.0, "pvc 25": 4.0}
    assert cost_of(bill, plan, own).missing == ()


@pytest.mark.pinned
def test_sizes_by_any_spelling() -> None:
    assert size_word("PVC 25 mm") == "pvc 25"
    assert size_word("pvc 20 × pvc 25") == size_word("pvc 25 x pvc 20") == "pvc 25 x pvc 20"
    assert size_word("26 mm bore") == "26 mm bore"


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        (
            "p.yaml",
            "elbow: {pvc 25: cheap}",
            ":1: the price of elbow pvc 25 is 'cheap'; a plain number, not below 0, is expected.",
        ),
        (
            "p.yaml",
            "elbow: {pvc 25: -1}",
            ":1: the price of elbow pvc 25 is '-1'; a plain number, not below 0, is expected.",
        ),
        (
            "p.yaml",
            "elbow: {pvc 25: .inf}",
            ":1: the price of elbow pvc 25 is '.inf'; a plain number, not below 0, is expected.",
        ),
        (
            "p.yaml",
            "elbow:\n  pvc 25: 1\n  pvc 25 mm: 2",
            ":3: a second price for elbow pvc 25; the first is at line 2.",
        ),
        ("p.yaml", "elbow: 3", ":1: 'elbow' has no prices by size; elbow: {pvc 25: 0.45} is expected."),
        (
            "p.yaml",
            "elbow: [3",
            ":2: this cannot be read as YAML; a price list such as elbow: {pvc 25: 0.45} is expected.",
        ),
        ("p.yaml", "", ": there are no prices; a list such as elbow: {pvc 25: 0.45} is expected."),
        ("p.yaml", "stock: 3", ":1: '3' has no unit; a length such as 3 m or 10 ft is expected."),
        (
            "p.yaml",
            "pipe: {pvc 25: {price: 3, lenght: 2 m}}",
            ":1: the price of 'pvc 25' is not understood; 0.45, or {price: 6.40, length: 5 m} for pipe, is expected.",
        ),
        (
            "p.yaml",
            "elbow: {pvc 25: {price: 3, length: 2 m}}",
            ":1: a length for elbow; only pipe is bought by its length.",
        ),
        (
            "p.csv",
            "what,size\n",
            ":1: the first line names the columns: item, size, price, and if wanted length, currency, minutes.",
        ),
        (
            "p.csv",
            "item,size,price\nelbow,pvc 25,x\n",
            ":2: the price of elbow pvc 25 is 'x'; a plain number, not below 0, is expected.",
        ),
        (
            "p.csv",
            "item,size,price,currency\nelbow,pvc 25,1,EUR\ntee,pvc 25,1,USD\n",
            ":3: prices in USD after prices in EUR; one currency is expected.",
        ),
        ("p.csv", "item,size,price\nelbow,pvc 25,1,5\n", ":2: 4 values in 3 columns."),
        (
            "p.csv",
            "item;size;price\nelbow;pvc 25;1.000,50\n",
            ":2: the price of elbow pvc 25 is '1.000,50'; a plain number, not below 0, is expected.",
        ),
        (
            "p.csv",
            "item,size,price,price\n",
            ":1: the first line names the columns: item, size, price, and if wanted length, currency, minutes.",
        ),
        ("p.csv", "item,size,price\nlabour,,1\nlabour,,2\n", ":3: a second price for an hour of labour."),
        (
            "p.csv",
            "item,size,price,minutes\nelbow,,,4\n",
            ":2: 'elbow' is no change, so that it has no 'minutes'; there are: capped tee, cap end, "
            "cap in a run, union, two 45s, cap a tee, take out, shorten, straighten, hang anew, straight over the rim, straight through the wall, lay afresh, pipe, set valve, new valve, shut-off valve, move valve, "
            "check valve, take out check valve, shorter standpipe, siphon break, second way out, standpipe, float switch, air stones.",
        ),
        (
            "p.yaml",
            "union: {pvc 25: 1e308}",
            ":1: the price of union pvc 25 is '1e308'; a plain number, of at most 1000000000, is expected.",
        ),
        (
            "p.yaml",
            "union: {money: .inf}",
            ":1: the money of 'union' is '.inf'; a plain number, not below 0, is expected.",
        ),
        (
            "p.yaml",
            "union: {money: 1e999}",
            ":1: the money of 'union' is '1e999'; a plain number, of at most 1000000000, is expected.",
        ),
        (
            "p.yaml",
            "union: {minutes: [3]}",
            ":1: the minutes of 'union' is 'a list of 1'; a plain number, not below 0, is expected.",
        ),
        ("p.yaml", "union: {size: 3}", ":1: the size of 'union' is '3'; true or false is expected."),
        (
            "p.yaml",
            "labour: {a day: 3}",
            ":1: 'labour' is a group of values, 'a day'; the price of an hour, such as 30 is expected.",
        ),
        (
            "p.yaml",
            "labour: -3",
            ":1: the price of an hour of labour is '-3'; a plain number, not below 0, is expected.",
        ),
        ("p.yaml", "currency: [EUR]", ":1: 'currency' is a list of 1; a word such as EUR is expected."),
        ("p.yaml", "stock: {a: b}", ":1: 'stock' is a group of values, 'a'; a length such as 3 m is expected."),
        ("p.yaml", "union: [money, 3]", ":1: 'union' has no prices by size; union: {pvc 25: 0.45} is expected."),
        ("p.yaml", "- union", ": there are no prices; a list such as elbow: {pvc 25: 0.45} is expected."),
        ("p.yaml", "42", ": there are no prices; a list such as elbow: {pvc 25: 0.45} is expected."),
        (
            "p.yaml",
            "union: {pvc 25: [1]}",
            ":1: the price of 'pvc 25' is not understood; 0.45, or {price: 6.40, length: 5 m} for pipe, is expected.",
        ),
    ],
)
def test_a_price_file_with_a_fault_is_told_in_one_sentence(
    prices: Callable[..., Path], capsys: pytest.CaptureFixture[str], name: str, text: str, said: str
) -> None:
    path = prices(text, name)
    for command in ("parts", "redesign"):
        assert main([command, str(COURTYARD), "--prices", str(path)]) == 2
        told = capsys.readouterr()
        assert told.err == f"{path}{said}\n"
        assert not told.out


@pytest.mark.pinned
def test_a_price_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(
        PlumblineError, match=r"^The prices in '.*nowhere\.yaml' cannot be read: No such file or directory\.$"
    ):
        read_price_file(tmp_path / "nowhere.yaml")


@pytest.mark.pinned
def test_a_word_for_no_part_is_told_with_the_nearest(
    prices: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    path = prices(PRICES + "elbo: {pvc 25: 1}\n")
    out = printed(capsys, str(COURTYARD), "--prices", str(path))
    assert "no part is called 'elbo'; its price is not used. Did you mean elbow?" in " ".join(out.split())


@pytest.mark.invariant
def test_a_bomb_of_repeats_is_refused(prices: Callable[..., Path]) -> None:
    lines = ["a: &a {x: 1, y: 2, z: 3}"]
    lines += [
        f"b{i}: &b{i} {{p: *{'a' if i == 0 else f'b{i - 1}'}, q: *{'a' if i == 0 else f'b{i - 1}'}}}" for i in range(40)
    ]
    with pytest.raises(PlumblineError, match="more than 100000 values"):
        read_price_file(prices("\n".join(lines)))


# ---------------------------------------------------------------------- stock and kerf


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--stock", "3"], "argument --stock: '3' has no unit"),
        (["--stock", "3 kg"], "argument --stock: '3 kg' is a mass, not a length"),
        (["--stock", "1 mm"], "argument --stock: '1 mm' is not between 0.2 m and 100 m"),
        (["--kerf", "-1 mm"], "argument --kerf: '-1 mm' is not between 0 m and 0.05 m"),
    ],
)
def test_an_option_that_makes_no_sense(capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["parts", str(COURTYARD), *words])
    assert capsys.readouterr().err == f"plumbline parts: {said} ('plumbline parts --help' tells more)\n"


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["--stock", "0.2 m"],
            "The pipe cannot be cut from lengths like these: the stock length is too short for a run in several pieces. "
            "Give a longer --stock.",
        ),
    ],
)
def test_a_length_that_makes_no_sense(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str], said: str
) -> None:
    path = tmp_path / "long.yaml"
    path.write_text(
        "lines:\n  a: {pipe: pvc 110, from: {draws: -1 L/min, height: 0 m}, route: [north: 3 m], to: open air}\n",
        encoding="utf-8",
    )
    assert main(["parts", str(path), *words]) == 2
    assert capsys.readouterr().err == f"{said}\n"


@pytest.mark.pinned
def test_stock_and_kerf_are_used(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys, str(COURTYARD), "--stock", "2 m", "--kerf", "1.2 mm")
    assert "pvc 63  2 × 2.00 m" in out
    assert "Each saw cut takes 2 mm." in out


# ---------------------------------------------------------------------- what is printed


@pytest.mark.invariant
@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("name", ["courtyard", "tangle", "gallons", "terraces", "call_outs"])
def test_it_fits_the_screen(name: str, width: int) -> None:
    from plumbline.report.parts import parts_view

    bill = bill_of(read_layout(COURTYARD.parent / f"{name}.yaml"))
    plan = plan_of(bill)
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        screen = Console(width=width, highlight=False, record=True, file=nowhere)
        screen.print(parts_view(bill, plan, cost_of(bill, plan)))
    lines = screen.export_text().splitlines()
    assert max(map(len, lines)) <= width
    assert any(line.startswith("least: no cutting of these pieces needs fewer lengths") for line in lines)
    # Names, sizes and lengths stay whole; only what a piece lies between is folded.
    for row in plan.sizes:
        assert any(line.startswith(f"{row.pipe.name} ") and f"{len(row.bars)} × " in line for line in lines)


@pytest.mark.invariant
def test_names_are_not_taken_for_markup(
    read_text: ReadText, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "odd.yaml"
    path.write_text(
        "name: '[red]odd[/red]'\nlines:\n  '[b]x': {pipe: pvc 25, from: {draws: -1 L/min, height: 0 m}, route: [north: 1 m], to: open air}\n",
        encoding="utf-8",
    )
    out = printed(capsys, str(path))
    assert "[red]odd[/red]: 0 fittings" in out
    assert "[b]x 1" in out


@pytest.mark.pinned
def test_a_bound_that_is_not_reached_is_told() -> None:
    from dataclasses import replace

    from plumbline.report.parts import parts_view

    bill = bill_of(read_layout(COURTYARD))
    plan = plan_of(bill)
    plan = replace(plan, sizes=tuple(replace(row, bound=len(row.bars) - 1, way="gap") for row in plan.sizes))
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        screen = Console(width=100, highlight=False, record=True, file=nowhere)
        screen.print(parts_view(bill, plan, cost_of(bill, plan)))
    text = screen.export_text()
    assert "where more are bought, fewer may do." in " ".join(text.split())
    assert "pvc 63  2 × 3.00 m      1 " in text


# ---------------------------------------------------------------------- CSV and JSON


@pytest.mark.pinned
def test_the_csv_file_holds_all_of_it(
    tmp_path: Path, prices: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out.csv"
    printed(capsys, str(COURTYARD), "--prices", str(prices(PRICES)), "--csv", str(out))
    rows = table(out)
    assert list(rows[0]) == list(COLUMNS)
    buy = [row for row in rows if row["list"] == "buy"]
    assert sum(float(row["cost"]) for row in buy) == pytest.approx(TOTAL, abs=0.005)
    assert {row["currency"] for row in buy} == {"EUR"}
    pieces = bill_of(read_layout(COURTYARD)).pieces
    cut = {row["mark"]: float(row["length mm"]) for row in rows if row["list"] == "cut"}
    assert cut == {piece.mark: pytest.approx(1000 * piece.length, abs=0.51) for piece in pieces}


@pytest.mark.pinned
def test_placeholders_are_called_that_in_the_csv_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.csv"
    printed(capsys, str(COURTYARD), "--csv", str(out))
    rows = table(out)
    assert {row["currency"] for row in rows if row["list"] == "buy"} == {"placeholder"}


@pytest.mark.invariant
def test_the_csv_file_is_never_written_over_another(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.csv"
    out.write_text("mine", encoding="utf-8")
    assert main(["parts", str(COURTYARD), "--csv", str(out)]) == 2
    told = capsys.readouterr()
    assert told.err == f"'{out}' is there already, and nothing is written over. Give another name.\n"
    assert not told.out
    assert out.read_text(encoding="utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]


@pytest.mark.pinned
def test_the_csv_file_in_a_folder_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(COURTYARD), "--csv", str(tmp_path / "no" / "out.csv")]) == 2
    assert "cannot be written: there is no folder" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("name", "cell"),
    [
        ("=1+1", "'=1+1 1"),
        ("+1", "'+1 1"),
        ("-1", "'-1 1"),
        ("@SUM(A1)", "'@SUM(A1) 1"),
        ("＝1", "'＝1 1"),
        ("a;=1+1", "a;'=1+1 1"),
        ("a; -1", "a; '-1 1"),
        ("south-east", "south-east 1"),
        ("a\x1b[2J", "a\\x1b[2J 1"),
    ],
)
def test_a_name_is_no_formula_in_a_spreadsheet(name: str, cell: str, read_text: ReadText, tmp_path: Path) -> None:
    """Nor after a semicolon, at which a spreadsheet set for decimal commas begins another cell."""
    bill = bill_of(
        read_text(
            f"lines:\n  {quoted(name)}: {{pipe: pvc 25, from: {{draws: -1 L/min, height: 0 m}}, route: [north: 1 m], to: open air}}\n"
        )
    )
    plan = plan_of(bill)
    out = tmp_path / "out.csv"
    new_file(out, "table").write(csv_text(bill, plan, cost_of(bill, plan)))
    assert [row["mark"] for row in table(out) if row["list"] == "cut"] == [cell]


@pytest.mark.pinned
def test_the_json_object(capsys: pytest.CaptureFixture[str]) -> None:
    out = json.loads(printed(capsys, str(COURTYARD), "--json"))
    assert set(out) == {"layout", "plumbline", "parts", "pipe", "pieces", "hoses", "cutting", "prices", "notes"}
    assert sum(part["count"] for part in out["parts"]) == 20
    tee = next(part for part in out["parts"] if part["kind"] == "tee")
    assert tee["places"] == [{"line": "riser", "step": 6, "why": None}]
    piece = next(piece for piece in out["pieces"] if piece["mark"] == "riser 1")
    assert piece["off"] == [
        {"end": "before", "part": "adapter of pump 'lift'", "takes_mm": None},
        {"end": "after", "part": "union 'pump union'", "takes_mm": pytest.approx(7.2)},
    ]
    assert out["prices"]["placeholders"] is True
    assert out["prices"]["currency"] is None
    assert [row["proven"] for row in out["cutting"]["sizes"]] == [True, True, True]


@pytest.mark.pinned
def test_a_layout_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "x.yaml"
    path.write_text("lines: {a: {pipe: pvc 25, from: nowhere, to: open air}}", encoding="utf-8")
    assert main(["parts", str(path)]) == 2
    assert "unknown name 'nowhere'" in capsys.readouterr().err


@pytest.mark.invariant
def test_the_price_files_in_the_docs_can_be_read(prices: Callable[..., Path]) -> None:
    import re

    text = (COURTYARD.parent.parent / "docs" / "parts.md").read_text(encoding="utf-8")
    shown = re.findall(r"```(yaml|csv)\n(.*?)```", text, re.DOTALL)
    assert [kind for kind, _ in shown] == ["yaml", "csv", "yaml"]
    yaml_file, csv_file, changes = (
        read_price_file(prices(held, f"{k}.{kind}")) for k, (kind, held) in enumerate(shown)
    )
    assert changes.changes == {
        "union": {"minutes": 10.0},
        "capped tee": {"minutes": 30.0},
        "siphon break": {"money": 1.5, "minutes": 5.0},
    }
    assert (changes.hour, len(changes.rows), changes.notes) == (32.0, 2, [])
    assert (yaml_file.currency, csv_file.currency) == ("EUR", "EUR")
    assert not yaml_file.notes
    assert not csv_file.notes
    for key, row in csv_file.rows.items():
        assert row.price == yaml_file.rows[key].price


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("up", "said"),
    [
        ("1 m", "1 fitting and other parts, 1.00 m of pipe from 1 length"),
        ("4 m", "2 fittings and other parts, 4.00 m of pipe from 2 lengths"),
    ],
)
def test_one_is_said_as_one(up: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plain riser on a pump: the pump's adapter, and a coupling where it is longer than the 3 m that pipe is sold in."""
    path = tmp_path / "riser.yaml"
    path.write_text(
        "vessels: {tank: {base: 0 m, water: 0.5 m}}\npumps: {p: {in: tank, curve: [[0 L/min, 6 m], [30 L/min, 2 m]]}}\n"
        f"lines: {{a: {{pipe: pvc 25, from: p, route: [{{up: {up}}}], to: open air}}}}\n",
        encoding="utf-8",
    )
    assert main(["parts", str(path)]) == 0
    assert " ".join(capsys.readouterr().out.split()).startswith(f"riser: {said} Fittings")
