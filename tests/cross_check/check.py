"""The curves of the program against reference libraries, at random points.

    python check.py PROGRAM [--seed N]

Each bound says what it rests on. The seed is printed, so that a run can be had again.
"""

import argparse
import csv
import io
import random
import secrets
import subprocess
import sys

from CoolProp.CoolProp import PropsSI
from fluids.atmosphere import ATMOSPHERE_1976
from iapws import IAPWS95, IAPWS97

POINTS = 80
ZERO_CELSIUS_K = 273.15
ATMOSPHERE_PA = 101_325
# Where the liquid of a mixture is asked about, CoolProp wants a temperature at which there is one.
WARM_K = 320
# The trade's volume shares stand for pure parts before mixing at 20 °C, kg/m³.
WATER, PURE = 998.2, {"EG": 1113.4, "PG": 1036.4}


def rows(program, name, points):
    """The rows of `calc NAME --rows -`, with what came out as numbers."""
    head = list(points[0])
    text = io.StringIO()
    writer = csv.DictWriter(text, head, lineterminator="\n")
    writer.writeheader()
    writer.writerows(points)
    done = subprocess.run([program, "calc", name, "--rows", "-"], input=text.getvalue(), capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"calc {name}: {done.stderr}")
    found = list(csv.DictReader(io.StringIO(done.stdout)))
    assert len(found) == len(points), f"calc {name}: {len(found)} rows of {len(points)}"
    for row in found:
        if row["problem"]:
            sys.exit(f"calc {name} {row}")
    return found


def by_mass(glycol, f):
    part = f * PURE[glycol]
    return part / (part + (1 - f) * WATER)


class Comparison:
    """What is compared, and how far apart the two may be."""

    def __init__(self, what, rests_on, bound, unit, relative=False):
        self.what, self.rests_on, self.bound, self.unit, self.relative = what, rests_on, bound, unit, relative
        self.worst, self.where, self.count = 0.0, None, 0

    def see(self, ours, theirs, where):
        apart = abs(ours - theirs)
        if self.relative:
            apart = 100 * apart / abs(theirs)
        self.count += 1
        # What is no number is as far apart as can be.
        if not apart <= self.worst:
            self.worst, self.where = apart, where

    @property
    def holds(self):
        return self.count > 0 and self.worst <= self.bound

    def __str__(self):
        word = "holds" if self.holds else "DOES NOT HOLD"
        return (
            f"{self.what}: {self.count} points, worst {self.worst:.4f} {self.unit} at {self.where}, "
            f"bound {self.bound} {self.unit} ({self.rests_on}): {word}"
        )


def freeze(program, draw):
    for glycol, fluid, most, bound, rests_on in [
        ("EG", "AEG", 0.57, 0.35, "0.20 on a 5 % grid up to 55 %; its own last rows are 0.33 off the table"),
        ("PG", "APG", 0.60, 0.2, "0.10 on a 5 % grid, and its own 0.09"),
    ]:
        seen = Comparison(f"freeze point of {glycol} against CoolProp {fluid} (ASHRAE 2001)", rests_on, bound, "°C")
        points = [{"glycol": glycol, "vol_fraction": draw.uniform(0.10, most)} for _ in range(POINTS)]
        for point, row in zip(points, rows(program, "freeze", points)):
            theirs = PropsSI("T_freeze", "T", WARM_K, "P", ATMOSPHERE_PA, f"INCOMP::{fluid}[{point['vol_fraction']}]")
            seen.see(float(row["t_freeze_c"]), theirs - ZERO_CELSIUS_K, point)
        yield seen


def pure_curve(program, draw):
    for glycol, fluid in [("EG", "MEG"), ("PG", "MPG")]:
        seen = Comparison(
            f"pure curve of {glycol} against CoolProp {fluid} (IIR 2010)", "the same polynomial", 0.01, "°C"
        )
        points = [{"glycol": glycol, "vol_fraction": draw.uniform(0.0, 0.57)} for _ in range(POINTS)]
        for point, row in zip(points, rows(program, "composition", points)):
            share = by_mass(glycol, point["vol_fraction"])
            theirs = PropsSI("T_freeze", "T", WARM_K, "P", ATMOSPHERE_PA, f"INCOMP::{fluid}[{share}]")
            seen.see(float(row["pure_curve_freeze_c"]), theirs - ZERO_CELSIUS_K, point)
        yield seen


def density(program, draw):
    for glycol, fluid, bound in [("EG", "AEG", 1.0), ("PG", "APG", 1.0)]:
        seen = Comparison(
            f"density of {glycol} against CoolProp {fluid} (ASHRAE 2001)",
            "0.82 and 0.69 against the tables, and its own fit to them",
            bound,
            "kg/m³",
        )
        points = [
            {"glycol": glycol, "t_c": draw.uniform(0, 95), "vol_fraction": draw.uniform(0.10, 0.60)}
            for _ in range(POINTS)
        ]
        for point, row in zip(points, rows(program, "density", points)):
            kelvin = point["t_c"] + ZERO_CELSIUS_K
            theirs = PropsSI("D", "T", kelvin, "P", ATMOSPHERE_PA, f"INCOMP::{fluid}[{point['vol_fraction']}]")
            seen.see(float(row["density_kg_m3"]), theirs, point)
        yield seen


def expansion(program, draw):
    for glycol, fluid in [("EG", "AEG"), ("PG", "APG")]:
        seen = Comparison(
            f"volume of {glycol} against that at 20 °C, CoolProp {fluid} (ASHRAE 2001)",
            "0.06 % against the tables from 20 to 95 °C, and the other fit's own error",
            0.1,
            "%",
            relative=True,
        )
        points = [
            {"glycol": glycol, "t_c": draw.uniform(0, 95), "vol_fraction": draw.uniform(0.10, 0.60)}
            for _ in range(POINTS)
        ]
        for point, row in zip(points, rows(program, "density", points)):
            code = f"INCOMP::{fluid}[{point['vol_fraction']}]"
            cold, warm = (
                PropsSI("D", "T", t_c + ZERO_CELSIUS_K, "P", ATMOSPHERE_PA, code) for t_c in (20, point["t_c"])
            )
            seen.see(float(row["v_t_over_v_20c"]), cold / warm, point)
        yield seen


def water(program, draw):
    seen = Comparison("density of water against IAPWS-95", "0.92 at 0 °C, the worst of 0 to 95 °C", 1.0, "kg/m³")
    points = [{"glycol": "EG", "t_c": draw.uniform(0, 95), "vol_fraction": 0} for _ in range(POINTS)]
    for point, row in zip(points, rows(program, "density", points)):
        theirs = IAPWS95(T=point["t_c"] + ZERO_CELSIUS_K, P=ATMOSPHERE_PA / 1e6).rho
        seen.see(float(row["density_kg_m3"]), theirs, point)
    yield seen
    seen = Comparison(
        "vapour pressure of water against IAPWS-IF97", "0.16 % at 100 °C, a little more above", 0.3, "%", relative=True
    )
    points = [{"glycol": "PG", "vol_fraction": 0, "t_c": draw.uniform(5, 130)} for _ in range(POINTS)]
    for point, row in zip(points, rows(program, "vapour-pressure", points)):
        theirs = 1_000 * IAPWS97(T=point["t_c"] + ZERO_CELSIUS_K, x=0).P
        seen.see(float(row["p_kpa"]), theirs, point)
    yield seen
    seen = Comparison("boiling of water against IAPWS-IF97", "0.04 °C at 100 °C, more where it boils hotter", 0.1, "°C")
    points = [
        {"glycol": "EG", "vol_fraction": 0, "cap_psig": draw.uniform(0, 25), "altitude_m": draw.uniform(0, 3_000)}
        for _ in range(POINTS)
    ]
    for point, row in zip(points, rows(program, "boiling", points)):
        theirs = IAPWS97(P=float(row["p_abs_kpa"]) / 1_000, x=0).T - ZERO_CELSIUS_K
        seen.see(float(row["t_boil_c"]), theirs, point)
    yield seen


def atmosphere(program, draw):
    seen = Comparison(
        "standard atmosphere against fluids (1976)", "geometric against geopotential height", 0.02, "%", relative=True
    )
    points = [{"altitude_m": draw.uniform(0, 3_000)} for _ in range(POINTS)]
    for point, row in zip(points, rows(program, "isa", points)):
        seen.see(float(row["p_kpa"]), ATMOSPHERE_1976(point["altitude_m"]).P / 1_000, point)
    yield seen


def main():
    words = argparse.ArgumentParser()
    words.add_argument("program")
    words.add_argument("--seed", type=int, default=secrets.randbelow(2**32))
    given = words.parse_args()
    draw = random.Random(given.seed)
    print(f"seed {given.seed}")
    checks = [
        seen
        for compare in [freeze, pure_curve, density, expansion, water, atmosphere]
        for seen in compare(given.program, draw)
    ]
    for seen in checks:
        print(seen)
    points = sum(seen.count for seen in checks)
    broken = [seen for seen in checks if not seen.holds]
    print(f"{len(checks)} comparisons, {points} points, {len(broken)} broken")
    assert points >= 500, "too few points to say anything"
    sys.exit(1 if broken else 0)


if __name__ == "__main__":
    main()
