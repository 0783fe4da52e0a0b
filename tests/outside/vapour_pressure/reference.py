"""Vapour pressures by two sources that share nothing with the correlation of `sealing`.

    reference.py make     writes recorded.csv
    reference.py check    recomputes every row of recorded.csv and compares

CoolProp: reference equations of state (Helmholtz energy). Perry: DIPPR 101 correlations of table 2-8
of Perry's Chemical Engineers' Handbook, 8th edition, as the `chemicals` library carries them. `sealing`
takes the VDI Heat Atlas instead.

A row is
    lading, degrees Celsius, absolute pressure in kPa by CoolProp, the same by Perry
"""
import csv
import pathlib
import sys

import chemicals
import CoolProp.CoolProp as coolprop
from chemicals.vapor_pressure import Psat_data_Perrys2_8 as PERRY

RECORDED = pathlib.Path(__file__).parent / "recorded.csv"
# Word in `sealing`, name in CoolProp, CAS number.
LADINGS = [
    ("anhydrous ammonia", "Ammonia", "7664-41-7"),
    ("chlorine", "Chlorine", "7782-50-5"),
    ("propane", "n-Propane", "74-98-6"),
    ("butane", "n-Butane", "106-97-8"),
    ("isobutane", "IsoButane", "75-28-5"),
    ("propylene", "Propylene", "115-07-1"),
    ("1-butene", "1-Butene", "106-98-9"),
    ("vinyl chloride", "VinylChloride", "75-01-4"),
    ("dimethyl ether", "DimethylEther", "115-10-6"),
    ("ethylene oxide", "EthyleneOxide", "75-21-8"),
    ("sulfur dioxide", "SulfurDioxide", "7446-09-5"),
    ("hydrogen chloride", "HydrogenChloride", "7647-01-0"),
    ("hydrogen sulfide", "HydrogenSulfide", "7783-06-4"),
    ("carbon dioxide", "CarbonDioxide", "124-38-9"),
]
AGREE = 1e-6  # Rows are recorded with eight figures.


def temperatures(fluid, cas):
    """Every 5 degrees from -40 to 70, below what both sources take for critical."""
    top = min(coolprop.PropsSI("Tcrit", fluid), PERRY.loc[cas]["Tmax"])
    low = max(coolprop.PropsSI("Ttriple", fluid), PERRY.loc[cas]["Tmin"])
    return [t for t in range(-40, 71, 5) if low < t + 273.15 < top]


def rows():
    for lading, fluid, cas in LADINGS:
        c = PERRY.loc[cas]
        for t in temperatures(fluid, cas):
            kelvin = t + 273.15
            by_state = coolprop.PropsSI("P", "T", kelvin, "Q", 0, fluid)
            by_perry = chemicals.dippr.EQ101(kelvin, c["C1"], c["C2"], c["C3"], c["C4"], c["C5"])
            yield lading, t, by_state / 1e3, float(by_perry) / 1e3


def make():
    with RECORDED.open("w", newline="") as f:
        for lading, t, a, b in rows():
            f.write(f"{lading},{t},{a:.8g},{b:.8g}\n")


def check():
    with RECORDED.open(newline="") as f:
        recorded = [(r[0], int(r[1]), float(r[2]), float(r[3])) for r in csv.reader(f)]
    found = list(rows())
    wrong = 0
    if len(found) != len(recorded) or len(found) < 250:
        sys.exit(f"{len(recorded)} rows recorded, {len(found)} computed")
    for was, now in zip(recorded, found):
        same = was[:2] == now[:2]
        if not same or any(abs(x / y - 1) > AGREE for x, y in zip(was[2:], now[2:])):
            print("recorded", was, "computed", now)
            wrong += 1
    print(f"{len(found)} vapour pressures, {wrong} differ")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    {"make": make, "check": check}[sys.argv[1]]()
