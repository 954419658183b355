"""A system's own rate of fouling, from readings of visits: against rates that were put in by hand, and against a plain sum."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from checks import LAYOUTS

from plumbline import check
from plumbline.catalogue import fouling as catalogued
from plumbline.cli import main
from plumbline.diagnose.pace import MONTH, Pace, pace_of, rate_at, text_with_pace, with_pace
from plumbline.errors import PlumblineError
from plumbline.hydraulics.find import settle
from plumbline.layout import layout_of, read_layout
from plumbline.layout.model import Layout, Mark, Reading
from plumbline.report.card import card_words
from plumbline.upkeep.card import WallCard, wall_card
from plumbline.upkeep.film import RATES, Film, film_limit, fouled_pipe, grown, growth
from plumbline.upkeep.fouled import fouled, pieces_of

ONE_LINE = """\
name: One line
water: 20 degC
vessels:
  tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m}
  bed: {holds: plants, base: 1.6 m, rim: 0.3 m, water: 0.1 m, wants: 10 L/min}
pumps:
  lift: {in: tank, height: 0.1 m, curve: [[0 L/min, 4 m], [30 L/min, 3 m], [60 L/min, 1 m]]}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route: [{up: 2 m}, elbow, {east: 8 m}]
    to: bed
  feed of none:
    pipe: pvc 25
    from: {vessel: bed, height: 0.02 m}
    route: [{down: 1 m}]
    to: tank
"""
HERE = Mark(1, 1)


def bucket(flow: float, line: str = "riser", share: float = 0.02) -> Reading:
    return Reading("flow", f"{line}.to", flow, share * flow, HERE, line=line, step=-1, litres=0.01)


def cleaned(line: str, months: float) -> Reading:
    return Reading("cleaned", line, months * MONTH, 0.0, HERE, line=line)


def by_hand(layout: Layout, place: float, months: int) -> float:
    """What the riser gives after months at a rate, followed by its own small loop with the bore that is left written into the pipe."""
    rate = rate_at(layout, place)
    film, flow = 0.0, settle(layout, margins=False).flows.ends["riser.to"].flow
    pieces = pieces_of(layout, ())
    mine = [piece for piece in pieces if piece.line == "riser"]
    films: dict[str, Film] = {}
    for _ in range(months):
        bore = fouled_pipe(mine[0].part.pipe, Film(film), rate).bore
        speed = flow / (math.pi / 4.0 * bore**2)
        film = grown(film, film_limit(speed, mine[0].part.pipe.bore, rate), 1.0, rate)
        films = {piece.line: Film(film) if piece.line == "riser" else Film() for piece in pieces}
        now = fouled(layout, pieces, [films[piece.line] for piece in pieces], rate)
        flow = settle(now, margins=False).flows.ends["riser.to"].flow
    return flow


@pytest.mark.second_method
@pytest.mark.parametrize(
    "place", [-0.7, pytest.param(0.0, marks=pytest.mark.slow), pytest.param(0.6, marks=pytest.mark.slow)]
)
def test_a_rate_put_in_by_hand_is_found(place: float) -> None:
    layout = layout_of(ONE_LINE)
    clean = settle(layout, margins=False).flows.ends["riser.to"].flow
    visits = [[bucket(clean, share=0.002)]]
    for months in (7, 14):
        flow = by_hand(layout, place, months)
        visits.append([bucket(flow, share=0.002), cleaned("riser", months), cleaned("feed of none", 0.0)])
    found = pace_of(layout, visits)
    assert found.fits
    assert found.likely == pytest.approx(place, abs=0.08)
    assert found.low < place < found.high
    assert found.high - found.low < 0.5


@pytest.mark.second_method
def test_readings_that_tell_nothing_leave_what_was_known_before() -> None:
    layout = layout_of(ONE_LINE)
    found = pace_of(layout, [[bucket(4e-4, share=50.0), cleaned("riser", 6)]])
    assert found.likely == pytest.approx(0.0, abs=0.02)
    # The normal that holds nine tenths from slow to fast, cut off at one and a half: by hand.
    scale = 1.6449
    inside = math.erf(1.5 * scale / math.sqrt(2.0))
    fifth = 0.05 * inside + 0.5 * (1.0 - inside)
    quantile = next(
        x for x in np.linspace(-1.5, 0.0, 3001) if 0.5 * (1.0 + math.erf(x * scale / math.sqrt(2.0))) >= fifth
    )
    assert found.low == pytest.approx(float(quantile), abs=0.02)
    assert found.high == pytest.approx(-float(quantile), abs=0.02)


@pytest.mark.invariant
def test_the_three_rates_are_those_of_the_catalogue_at_their_places_and_rise_between() -> None:
    layout = layout_of(ONE_LINE)
    for place, name in zip((-1.0, 0.0, 1.0), RATES, strict=True):
        assert vars_of(rate_at(layout, place)) == pytest.approx(vars_of(growth(layout, name)))
    deposits = [rate_at(layout, place).deposit for place in np.linspace(-1.5, 1.5, 13)]
    assert deposits == sorted(deposits)
    assert all(rate_at(layout, place).deposit_most <= 0.9 for place in (1.2, 1.5))
    off = replace(layout, fouling={"deposit a month": (0.0, 0.0, 0.0)})
    assert rate_at(off, 0.7).deposit == 0.0


def vars_of(rate: object) -> list[float]:
    return [getattr(rate, name) for name in rate.__slots__]  # type: ignore[attr-defined]


@pytest.mark.invariant
def test_a_line_cleaned_since_is_as_one_that_began_then() -> None:
    layout = layout_of(ONE_LINE)
    late = pace_of(layout, [[bucket(3e-4), cleaned("riser", 3), cleaned("feed of none", 12)]])
    young = pace_of(layout, [[bucket(3e-4), cleaned("riser", 3), cleaned("feed of none", 0.0)]])
    assert late.found == pytest.approx(young.found, rel=0.01)
    whole = pace_of(layout, [[bucket(3e-4), cleaned("feed of none", 12)]])  # the riser is as long uncleaned
    assert whole.found[0] < late.found[0]


@pytest.mark.invariant
def test_what_clean_pipe_cannot_give_is_no_fouling() -> None:
    layout = layout_of(ONE_LINE)
    clean = settle(layout, margins=False).flows.ends["riser.to"].flow
    assert not pace_of(layout, [[bucket(2.0 * clean), cleaned("riser", 6)]]).fits


@pytest.mark.invariant
@pytest.mark.parametrize(
    "there", ["", "fouling: {film time: 3}   # ours\n", "fouling:\n  film time: [6, 2, 1]\n  deposit a month: 0.4 %\n"]
)
def test_what_is_written_is_read_again_as_the_rates_found(there: str) -> None:
    layout = layout_of(there + ONE_LINE)
    pace = Pace(layout, 0.4, -0.2, 0.9, (), (), (), True)
    again = layout_of(text_with_pace(pace))
    for place, name in zip((-0.2, 0.4, 0.9), RATES, strict=True):
        assert vars_of(growth(again, name)) == pytest.approx(vars_of(rate_at(layout, place)), rel=0.006)
        assert vars_of(growth(with_pace(pace), name)) == pytest.approx(vars_of(rate_at(layout, place)))
    assert set(again.fouling) == set(catalogued())
    assert again.lines.keys() == layout.lines.keys()


@pytest.mark.pinned
def test_visits_that_cannot_be_weighed_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = read_layout(LAYOUTS / "courtyard.yaml")
    with pytest.raises(PlumblineError, match="how long pipe has fouled"):
        pace_of(layout, [[bucket(3e-4)]])
    with pytest.raises(PlumblineError, match="no readings"):
        pace_of(layout, [[cleaned("riser", 3)]])
    assert main(["fouling", str(LAYOUTS / "courtyard.yaml"), "-o", str(tmp_path / "new.yaml")]) == 2
    assert "nothing to write" in capsys.readouterr().err
    assert not (tmp_path / "new.yaml").exists()


@pytest.mark.slow(3)
@pytest.mark.invariant
def test_the_command_tells_the_rate_and_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    visit, new = tmp_path / "visit.yaml", tmp_path / "new.yaml"
    visit.write_text("readings: [{at: riser.to, caught: 10 L in 33 s}, {line: riser, cleaned: 6 months}]")
    file = str(LAYOUTS / "courtyard.yaml")
    assert main(["fouling", file, "--readings", str(visit), "--months", "3", "-o", str(new)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "As read, pipe here fouls at" in said
    assert "33 s" in said
    assert set(read_layout(new).fouling) == set(catalogued())
    text = read_layout(file).text
    assert [line for line in text.splitlines() if line not in new.read_text(encoding="utf-8").splitlines()] == []


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_readings_in_the_file_itself_are_taken_as_those_of_a_visit_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same rate; and readings without a cleaning, which tell nothing of it, are left to a diagnosis."""
    read = "readings: [{at: riser.to, caught: 10 L in 33 s}, {line: riser, cleaned: 6 months}]\n"
    own, visit, timed = tmp_path / "own.yaml", tmp_path / "visit.yaml", tmp_path / "timed.yaml"
    own.write_text(ONE_LINE + read)
    visit.write_text(read)
    timed.write_text(ONE_LINE + "readings: [{at: riser.to, caught: 10 L in 33 s}]\n")
    plain = tmp_path / "plain.yaml"
    plain.write_text(ONE_LINE)

    def said(*words: str) -> str:
        assert main(["fouling", *words, "--months", "1"]) == 0
        return capsys.readouterr().out

    assert said(str(own)) == said(str(plain), "--readings", str(visit))
    assert said(str(timed)) == said(str(plain))
    new = tmp_path / "new.yaml"
    assert main(["fouling", str(own), "--months", "1", "-o", str(new)]) == 0
    assert set(read_layout(new).fouling) == set(catalogued())


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_the_card_dates_a_bucket_by_rates_of_the_layouts_own_alone() -> None:
    assert all(one.months is None for one in card_of(ONE_LINE).buckets)
    layout = layout_of("fouling: {film time: 3, film roughness: 0.6 mm}\n" + ONE_LINE.replace("10 L/min", "28 L/min"))
    riser = next(one for one in card_of(layout.text).buckets if one.line == "riser")
    assert riser.due is not None
    flows = [by_hand(layout, 0.0, months) for months in range(1, 13)]
    assert flows[0] > riser.due > flows[-1]
    assert riser.months == next(month for month, flow in enumerate(flows, start=1) if flow < riser.due)
    said = card_words(card_of(layout.text))
    assert said.bucket_head[-1] == "likely after"
    assert f"{riser.months:.0f} month" in " ".join(said.bucket_rows[0])
    lasting = layout_of("fouling: {film roughness: 0.001 mm, film roughness at most: 0.001 mm}\n" + ONE_LINE)
    kept = next(one for one in card_of(lasting.text).buckets if one.line == "riser")
    assert kept.months == math.inf
    assert "over 24 months" in " ".join(card_words(card_of(lasting.text)).bucket_rows[0])


def card_of(text: str) -> WallCard:
    result = check(layout_of(text))
    return wall_card(result.layout, result.flows, result.upkeep)


@pytest.mark.second_method
@pytest.mark.slow
def test_the_range_holds_the_true_rate_as_often_as_it_says() -> None:
    layout, random = layout_of(ONE_LINE), np.random.default_rng(11)
    held = 0
    clean = settle(layout, margins=False).flows.ends["riser.to"].flow
    for _ in range(40):
        place = float(np.clip(random.normal(0.0, 1.0 / 1.6449), -1.4, 1.4))
        visits = [[bucket(clean * (1.0 + 0.02 * random.normal()))]]
        flow = by_hand(layout, place, 6) * (1.0 + 0.02 * random.normal())
        visits.append([bucket(flow), cleaned("riser", 6), cleaned("feed of none", 0.0)])
        found = pace_of(layout, visits)
        held += found.low <= place <= found.high
    assert 31 <= held <= 40  # 36 of 40 on the mean; fewer than 31 comes in one such set of two hundred
