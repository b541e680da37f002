"""Cards made from measurements: known numbers come back from synthetic data with noise, published ones from published data."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.material import card_text, record
from meltzone.cases.studies.material.calorimetry import analysed
from meltzone.cases.studies.material.flow_curve import Points, flow_curve
from meltzone.cases.studies.material.make import MadeCard, material
from meltzone.cases.studies.material.melt_flow_rate import DIE, FlowRate, die_flow
from meltzone.cases.studies.material.moduli import Moduli, spectrum_of
from meltzone.cases.studies.material.read import load_measurements
from meltzone.cases.studies.material.sapphire import sapphire_capacity
from meltzone.cases.studies.run import solve
from meltzone.cases.studies.validation.compared import compared
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.materials.doubt import doubt_of
from meltzone.materials.library import card_from_mapping, polymer
from meltzone.materials.polymer import Polymer
from meltzone.materials.viscosity import CarreauArrhenius, CrossWLF, Viscosity

ZERO = 273.15
# Made up, of the order of a print polymer
CROSS = CrossWLF(n=0.32, tau_star=1.2e5, D1=2e9, D2=336.15, A1=22.0, A2=51.6)
CARREAU = CarreauArrhenius(n=0.4, tau_star=8e4, rest=1500.0, T0=483.15, E=75e3)
T, RATE = (each.ravel() for each in np.meshgrid(np.array([190.0, 210.0, 230.0]) + ZERO, np.logspace(-1, 3, 12)))


def noisy(law: Viscosity, seed: int, noise: float = 0.05) -> Points:
    return Points(T, RATE, law(RATE, T) * np.exp(noise * np.random.default_rng(seed).normal(size=T.size)))


def heating_run(melted: float, cold: float, noise: float = 15.0, glass: float = 63.0) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures [degC] and heat capacities [J/kg/K] of a made-up run with a step, a cold crystallisation and a peak."""
    t = np.arange(20.0, 201.0, 0.25)
    above = 1.0 / (1.0 + np.exp(-(t - glass) / 1.6))
    cp = (1200.0 + 6.2 * (t - 23.0)) * (1.0 - above) + (1880.0 + 1.55 * (t - 72.0)) * above

    def peak(centre: float, width: float) -> np.ndarray:
        return np.exp(-0.5 * ((t - centre) / width) ** 2) / (width * np.sqrt(2.0 * np.pi))

    cp += melted * peak(157.0, 5.0) - cold * peak(100.0, 5.0)
    return t, cp + noise * np.random.default_rng(3).normal(size=t.size)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file of measurements with its tables, as two instruments write them."""
    place = tmp_path_factory.mktemp("measured")
    t, cp = heating_run(35e3, 25e3)
    rows = [f"{a:.2f};{b:.5f}".replace(".", ",") for a, b in zip(t, cp * 8.2e-6 / 6.0 * 1e3, strict=True)]
    head = ["Instrument;invented", "Sample mass;8,2 mg", "", "Temp./°C;DSC/(mW)"]
    (place / "dsc.csv").write_text("\n".join(head + rows), encoding="utf-8")
    points = noisy(CROSS, 0, 0.03)
    lines = ["Angular frequency,Temperature,Complex viscosity", "rad/s,°C,Pa·s"]
    lines += [
        f"{w:.5g},{k - ZERO:.2f},{eta:.6g}"
        for k, w, eta in zip(points.temperature, points.rate, points.viscosity, strict=True)
    ]
    (place / "eta.csv").write_text("\n".join(lines), encoding="utf-8")
    (place / "own.toml").write_text(
        'like = "pla"\n[dsc]\nfile = "dsc.csv"\nheating_rate = "10 K/min"\nmass = "8.2 mg"\n[viscosity]\nfile = "eta.csv"\n'
        "[[density]]\n"
        'temperature = "23 degC"\nvalue = "1.245 g/cm^3"\n[[density]]\ntemperature = "200 degC"\nvalue = "1.08 g/cm^3"\n',
        encoding="utf-8",
    )
    return place


@pytest.fixture(scope="module")
def made(folder: Path) -> MadeCard:
    return material(folder / "own.toml")


def test_intervals_of_a_law_cover_the_truth_as_often_as_they_say() -> None:
    """Of 20 sets the 95 % intervals hold the truth in 17 at least: fewer come by chance less than once in 60."""
    truth = {"eta0": float(CROSS.zero_shear(T.mean())), "tau_star": CROSS.tau_star, "A1": CROSS.A1, "n": CROSS.n}
    covered, chosen = dict.fromkeys(truth, 0), 0
    for seed in range(20):
        found = flow_curve(noisy(CROSS, seed), 336.15, None)
        chosen += isinstance(found.law, CrossWLF)
        for name, value in truth.items():
            low, high = found.intervals.get(name, (np.nan, np.nan))
            covered[name] += low <= value <= high
    assert chosen >= 18
    assert min(covered.values()) >= 17 - (20 - chosen)


def test_the_criterion_finds_the_law_that_the_points_follow() -> None:
    for seed in range(5):
        assert isinstance(flow_curve(noisy(CARREAU, seed), 336.15, None).law, CarreauArrhenius)


def test_points_lie_within_the_stated_factors() -> None:
    found = flow_curve(noisy(CROSS, 1), 336.15, None)
    fresh = noisy(CROSS, 2)
    ratio = fresh.viscosity / found.law(fresh.rate, fresh.temperature)
    assert np.mean((ratio > found.factors[0]) & (ratio < found.factors[1])) > 0.95


def test_moulding_abs_by_its_published_power_law() -> None:
    """17 070 Pa s^n, n 0.348 at 239 degC and 120 Pa s at 2000 1/s: Kazmer, Injection Mold Design Engineering (second hand)."""
    rate = np.geomspace(300.0, 20000.0, 10)
    points = Points(np.full(10, 512.15), rate, 17070.0 * rate ** (0.348 - 1.0))
    found = flow_curve(points, 373.15, polymer("abs").viscosity)
    assert found.law(2000.0, 512.15) == pytest.approx(120.0, rel=0.01)
    assert found.law.n == pytest.approx(0.348, abs=0.01)


def test_a_filament_measured_at_one_point() -> None:
    """555.5 Pa s at 210 degC and 0.2 1/s: Thumsorn et al. 2022, doi 10.3390/polym14132721, Table 3."""
    point = Points(np.array([483.15]), np.array([0.2]), np.array([555.5]))
    found = flow_curve(point, 336.15, polymer("pla").viscosity)
    assert found.law(0.2, 483.15) == pytest.approx(555.5, rel=1e-9)
    assert found.moved_by == pytest.approx(0.16, abs=0.005)
    with pytest.raises(ValueError, match="no law"):
        flow_curve(point, 336.15, None)


@pytest.mark.parametrize(("melted", "cold"), [(32.7e3, 18.3e3), (38.0e3, 24.0e3), (43.3e3, 30.1e3)])
def test_net_enthalpies_of_filaments_come_back(melted: float, cold: float) -> None:
    """Melting and cold crystallisation as of twelve filaments, doi 10.2478/msp-2023-0015, put into a made-up run."""
    t, cp = heating_run(melted, cold)
    found = analysed(t + ZERO, cp, melts=True)
    assert found.melting is not None and found.step is not None
    assert found.melting.low <= melted - cold <= found.melting.high
    assert found.melting.high - found.melting.low < 8e3
    assert found.melting.peak - ZERO == pytest.approx(157.0, abs=1.0)
    assert found.step.middle - ZERO == pytest.approx(63.0, abs=1.5)
    away = (found.table[0] - ZERO < 55.0) | (found.table[0] - ZERO > 175.0)
    truth = np.interp(found.table[0] - ZERO, *heating_run(0.0, 0.0, 0.0))
    assert np.abs(found.table[1] / truth - 1.0)[away].max() < 0.01
    assert np.abs(found.table[1] / truth - 1.0).max() < 0.04


def test_an_amorphous_run_has_a_step_and_no_peak() -> None:
    t, cp = heating_run(0.0, 0.0, glass=105.0)
    found = analysed(t + ZERO, cp, melts=False)
    assert found.melting is None and found.step is not None
    assert found.step.middle - ZERO == pytest.approx(105.0, abs=1.5)


def test_the_standard_die_by_closed_forms() -> None:
    rate = FlowRate(463.15, 2.16, 1e-6)
    # 298.2 kPa for 2.16 kg: ISO 1133, from memory
    assert rate.wall_stress == pytest.approx(298.2e3 * DIE / 4.0 / 8e-3, rel=2e-3)
    slow = CarreauArrhenius(n=0.5, tau_star=1e12, rest=1000.0, T0=463.15, E=1e3)
    poiseuille = np.pi * (DIE / 2.0) ** 3 * rate.wall_stress / 4.0 / 1000.0
    assert die_flow(slow, rate) == pytest.approx(poiseuille, rel=1e-6)
    n, consistency = 0.4, 8000.0  # far beyond the bend: Q = pi R^3 n/(3n + 1) (tau_w/K)^(1/n)
    rest = 1e7
    thin = CarreauArrhenius(n=n, tau_star=(consistency / rest**n) ** (1.0 / (1.0 - n)), rest=rest, T0=463.15, E=1e3)
    power = np.pi * (DIE / 2.0) ** 3 * n / (3.0 * n + 1.0) * (rate.wall_stress / consistency) ** (1.0 / n)
    assert die_flow(thin, rate) == pytest.approx(power, rel=2e-3)


def test_a_spectrum_gives_back_its_moduli() -> None:
    omega, strength, time = np.logspace(-2, 4, 40), np.array([1e5, 2e5, 5e4]), np.array([1e-3, 1e-2, 1e-1])
    x = omega[:, None] * time
    moduli = Moduli(483.0, omega, (strength * x**2 / (1 + x**2)).sum(1), (strength * x / (1 + x**2)).sum(1))
    found = spectrum_of(moduli)
    assert np.abs(found.misses).max() < 1e-6
    assert found.rest == pytest.approx(strength @ time, rel=1e-6)
    assert found.plateau is None, "the loss tangent still falls at the end"


def test_a_card_is_read_back_and_says_what_it_rests_on(made: MadeCard) -> None:
    data = tomllib.loads(card_text(made))
    card = card_from_mapping("own", data["materials"]["own"], "card.toml")
    assert isinstance(card, Polymer)
    assert card.melting_enthalpy == pytest.approx(10e3, abs=1.5e3)
    assert card.heat_capacity.measured_range is not None
    assert card.heat_capacity.measured_range[1] - ZERO == pytest.approx(198.5, abs=0.6)
    assert card.viscosity is not None and card.viscosity.rates is not None
    assert card.viscosity.rates[1] == pytest.approx(1000.0, rel=1e-3)
    assert "outside the data" in card.sources["heat_capacity at 320 degC"]
    assert "conductivity" in made.missing and "density" not in made.missing
    assert record(made)["viscosity"]["by_frequency"] is True


def test_results_warn_of_what_lies_outside_the_data(made: MadeCard, folder: Path) -> None:
    (folder / "card.toml").write_text(card_text(made), encoding="utf-8")
    (folder / "case.toml").write_text('extends = ["card.toml", "short-block"]\n', encoding="utf-8")
    found = " ".join(solve(folder / "case.toml", "12 mm^3/s", {"mesh.level": 0.25}).warnings)
    for words in (
        "heat capacity is measured for 22 to 198 degC",
        "density is measured",
        "viscosity is measured up to 1e+03",
    ):
        assert words in found


@pytest.mark.parametrize("kind", ["amorphous", "semi-crystalline"])
def test_a_class_fills_what_is_missing_with_its_whole_spread(kind: str, tmp_path: Path) -> None:
    file = tmp_path / "bare.toml"
    file.write_text(f'like = "{kind}"\n[[density]]\ntemperature = "23 degC"\nvalue = "1.05 g/cm^3"\n', encoding="utf-8")
    card = material(file).card
    assert float(card.density(296.15)) == pytest.approx(1050.0, rel=1e-3)
    assert float(card.density(500.0)) < 1040.0, "the melt is lighter, as of its class"
    low, high = card.ranges["flow_temperature"]
    shipped = [polymer(name) for name in (("abs", "pc") if kind == "amorphous" else ("pa6", "pp"))]
    if kind == "semi-crystalline":
        assert (
            low
            <= min(each.flow_temperature for each in shipped)
            < max(each.flow_temperature for each in shipped)
            <= high
        )
    assert low < card.flow_temperature < high
    factors = card.ranges["viscosity"]
    assert factors[1] / factors[0] > 10.0


def test_bands_read_the_ranges_of_a_card(made: MadeCard, tmp_path: Path) -> None:
    """Measured numbers narrow them; a class spreads them."""
    for name in (
        "heat_capacity",
        "density",
        "melting_enthalpy",
        "softening_temperature",
        "flow_temperature",
        "viscosity",
    ):
        assert doubt_of(made.card, name)[2] == "range of the card"
    file = tmp_path / "bare.toml"
    file.write_text('like = "semi-crystalline"\n', encoding="utf-8")
    low, high, known = doubt_of(material(file).card, "flow_temperature")
    narrow = doubt_of(made.card, "flow_temperature")
    assert known == "range of the card" and high - low > 10.0 * (narrow[1] - narrow[0])


def test_cards_of_a_file_are_listed_and_shown(made: MadeCard, folder: Path) -> None:
    (folder / "card.toml").write_text(card_text(made), encoding="utf-8")
    shown = CliRunner().invoke(app, ["materials", str(folder / "card.toml")])
    assert shown.exit_code == 0 and "name in a case file: own" in shown.output
    missed = CliRunner().invoke(app, ["materials", f"{folder / 'card.toml'}:other"])
    assert missed.exit_code == 2 and "There are own" in missed.stderr


def test_a_material_s_page_tells_where_it_was_compared(tmp_path: Path) -> None:
    """Every shipped measurement that names no other filament is one with PLA; nobody measured PA12."""
    rows = compared("pla")
    assert {row.row for row in rows if row.measured == "hot-ends-in-practice"} == {
        row.name for row in load_measured("hot-ends-in-practice").rows
    }
    assert {row.part for row in compared("brass")} >= {"nozzle"}
    assert compared("pa12") == []
    page = tmp_path / "pla.html"
    assert CliRunner().invoke(app, ["materials", "pla", "--out", str(page)]).exit_code == 0
    text = page.read_text(encoding="utf-8")
    assert "hot-ends-in-practice" in text and "data:image/svg+xml" in text and "qualified people" in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('like = "plo"\n', "pla"),
        ('like = "pla"\n[dsc]\nfile = "none.csv"\n', "a table that exists"),
        ('like = "pla"\n[dsc]\nfile = "dsc.csv"\n', "heating_rate"),
        ('like = "pla"\n[dsc]\nfile = "dsc.csv"\nheating_rate = "10 K/min"\nmass = "8.2 g"\n', "mass"),
        ('like = "pla"\n[dsc]\nfile = "eta.csv"\nheating_rate = "10 K/min"\n', "headings"),
        ('like = "pla"\n[[density]]\ntemperature = "23 degC"\nvalue = "1.2"\n', "density"),
    ],
)
def test_bad_measurements_give_one_clear_error(folder: Path, text: str, words: str) -> None:
    file = folder / "bad.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        material(file)
    assert words in str(caught.value)


def test_sapphire_has_its_published_heat_capacity() -> None:
    """Incropera, Fundamentals of Heat and Mass Transfer, Table A.2: 940 to 1225; NIST WebBook: 78.77 J/mol/K at 298 K."""
    found = sapphire_capacity(np.array([400.0, 600.0, 800.0, 1000.0]))
    np.testing.assert_allclose(found, [940.0, 1110.0, 1180.0, 1225.0], rtol=0.01)
    assert sapphire_capacity(np.array([298.15]))[0] * 0.101961 == pytest.approx(78.77, rel=5e-3)


@pytest.fixture
def three_runs(tmp_path: Path) -> Path:
    """Sample, sapphire and empty pans through an instrument that reads 20 % too much, drifts, and shows melting downwards."""
    t, cp = heating_run(35e3, 25e3, noise=0.0)
    drift, seen = 0.4 + 2e-3 * t, -1.2 * 1e3 * 20.0 / 60.0  # [mW]
    flows = {"sample": 8.2e-6 * cp, "sapphire": 25.6e-6 * sapphire_capacity(t + ZERO), "empty": 0.0 * t}
    for name, heat in flows.items():
        rows = [f"{a:.2f},{b:.6f}" for a, b in zip(t, drift + seen * heat, strict=True)]
        (tmp_path / f"{name}.csv").write_text("\n".join(["Temp [degC],Heat flow [mW]", *rows]), encoding="utf-8")
    (tmp_path / "own.toml").write_text(
        'like = "pla"\n[dsc]\nfile = "sample.csv"\nmass = "8.2 mg"\nsapphire = "sapphire.csv"\n'
        'sapphire_mass = "25.6 mg"\nempty = "empty.csv"\nendothermic = "down"\n',
        encoding="utf-8",
    )
    return tmp_path / "own.toml"


def test_three_runs_give_the_heat_capacity_whatever_the_instrument_multiplies_and_adds(three_runs: Path) -> None:
    t, cp = heating_run(35e3, 25e3, noise=0.0)
    measured = load_measurements(three_runs)
    assert measured.run is not None
    np.testing.assert_allclose(np.interp(t[1:-1] + ZERO, *measured.run), cp[1:-1], rtol=1e-4, atol=0.5)
    assert any("ISO 11357-4" in note for note in measured.notes)
    assert {path.name for path in measured.reads} == {"own.toml", "sample.csv", "sapphire.csv", "empty.csv"}


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('sapphire_mass = "25.6 mg"\n', "", "sapphire_mass"),
        ('empty = "empty.csv"\n', "", "dsc.empty"),
        ('empty = "empty.csv"', 'empty = "none.csv"', "dsc.empty"),
        ('endothermic = "down"', 'endothermic = "up"', "more heat than the empty pans"),
    ],
)
def test_three_runs_that_cannot_be_used_are_refused(three_runs: Path, old: str, new: str, told: str) -> None:
    text = three_runs.read_text(encoding="utf-8")
    assert old in text
    three_runs.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError, match=told):
        load_measurements(three_runs)
