"""The clamp bar on its links as a space frame, solved by PyNite.

    reference.py make     writes recorded.csv
    reference.py check    recomputes every row of recorded.csv and compares

Two rails on two pairs of elastic links, joined at their ends; the screw pushes up through a stiff block
between the rails, off the middle along the bar and off the centre line across it. Each saddle is a stiff
piece across both rails, its stem pinned to it; the upper pin is a member from link to link with the
stem's pull between; the links hang on their pins by hinges, and the lower pin on the foot's seat.

X runs along the bar, Y up, Z across. Lengths are millimetres, forces newtons. A row is
    span, rail width, rail height, slot, along, across, inside distance A, outside distance A,
    inside thickness A, outside thickness A, load,
    share of end A, deflection at the screw against the line between the saddles, greatest such
    deflection, share of the inside link at end A, greatest moment of the more loaded rail over that of
    both rails
"""
import csv
import pathlib
import sys

import numpy as np
from Pynite import FEModel3D

RECORDED = pathlib.Path(__file__).parent / "recorded.csv"
CASES = 40
AGREE = 1e-6
E, G, NU = 200e3, 77e3, 0.3
COMBO = "Combo 1"
STIFF = 1e3  # Times a rail's own section, for block and saddles.
OVERHANG, PIECE = 60.0, 19.05  # Of the rails beyond the saddles, and the end pieces' length.


def torsion(b, h):
    """Torsion constant of a rectangle (Saint-Venant, to a fraction of a percent)."""
    b, h = min(b, h), max(b, h)
    return h * b**3 * (1 / 3 - 0.21 * b / h * (1 - (b / h) ** 4 / 12))


def solve(span, width, height, slot, along, across, inside, outside, t_in, t_out, load):
    m = FEModel3D()
    m.add_material("steel", E, G, NU, 7.85e-9)
    iz, iy, j = width * height**3 / 12, height * width**3 / 12, torsion(width, height)
    m.add_section("rail", width * height, iy, iz, j)
    m.add_section("stiff", STIFF * width * height, STIFF * iy, STIFF * iz, STIFF * j)
    m.add_section("piece", PIECE * height, height * PIECE**3 / 12, PIECE * height**3 / 12,
                  torsion(PIECE, height))
    m.add_section("pin", 380.0, 11500.0, 11500.0, 23000.0)
    half, side = span / 2, (slot + width) / 2
    stations = {"eb": -half - OVERHANG, "b": -half, "s": along, "a": half, "ea": half + OVERHANG}
    for rail, z in (("l", -side), ("r", side)):
        for name, x in stations.items():
            m.add_node(name + rail, x, 0, z)
        for i, k in (("eb", "b"), ("b", "s"), ("s", "a"), ("a", "ea")):
            m.add_member(i + rail, i + rail, k + rail, "steel", "rail")
    for name in ("ea", "eb"):
        m.add_member("piece" + name, name + "l", name + "r", "steel", "piece")
    # The block rests on the rails as on two supports, and so do the saddles' tops.
    m.add_node("screw", along, 0, across)
    for rail in "lr":
        m.add_member("block" + rail, "screw", "s" + rail, "steel", "stiff")
        m.def_releases("block" + rail, Rxj=True, Rzj=True, Ryj=True)
    m.add_node_load("screw", "FY", load)
    m.def_support("screw", True, False, True, False, False, True)
    for end, x, sign, dist, thick in (
        ("a", half, 1, (inside, outside), (t_in, t_out)),
        ("b", -half, -1, (25.0, 25.0), (12.7, 12.7)),
    ):
        m.add_node("top" + end, x, 0, 0)
        for rail in "lr":
            m.add_member("saddle" + end + rail, "top" + end, end + rail, "steel", "stiff")
            m.def_releases("saddle" + end + rail, Rxj=True, Ryj=True, Rzj=True)
        m.add_node("stem" + end, x, -40, 0)
        m.add_member("stem" + end, "top" + end, "stem" + end, "steel", "stiff")
        m.def_releases("stem" + end, Rxj=True, Rzj=True)
        m.add_node("foot" + end, x, -340, 0)
        for which, d, t in zip(("in", "out"), (-sign * dist[0], sign * dist[1]), thick):
            for level, y in (("u", -40), ("l", -340)):
                m.add_node(level + end + which, x + d, y, 0)
                middle = "stem" + end if level == "u" else "foot" + end
                m.add_member("pin" + level + end + which, middle, level + end + which, "steel", "pin")
            name = "link" + end + which
            m.add_section(name, 40 * t, 40 * t**3 / 12, t * 40**3 / 12, torsion(40, t))
            m.add_member(name, "l" + end + which, "u" + end + which, "steel", name)
            m.def_releases(name, Ryi=True, Rzi=True, Ryj=True, Rzj=True)
        m.def_support("foot" + end, True, True, True, True, True, False)
        # A hanging pair may swing; nothing here makes it, so it is held upright.
        m.def_support("stem" + end, True, False, True, True, True, False)
        m.def_support("top" + end, True, False, True, True, True, True)
    m.analyze(check_statics=False)

    force = lambda name: abs(m.members[name].axial(100.0, COMBO))
    pulls = {e: force("link" + e + "in") + force("link" + e + "out") for e in "ab"}
    share = pulls["a"] / (pulls["a"] + pulls["b"])
    of_inside = force("linkain") / pulls["a"]
    assert abs(pulls["a"] + pulls["b"] - load) < 1e-6 * load

    # Mean of both rails against the line between the saddles' places.
    def rise(x):
        total = 0.0
        for rail in "lr":
            start = m.nodes["b" + rail].DY[COMBO]
            stop = m.nodes["a" + rail].DY[COMBO]
            member, at = ("b" + rail, x + half) if x <= along else ("s" + rail, x - along)
            here = m.members[member].deflection("dy", at, COMBO)
            total += here - (start + (stop - start) * (x + half) / span)
        return total / 2

    at_screw = rise(along)
    # The greatest lies between the screw and the middle: a fine search, then a finer one.
    lo, hi = -half, half
    for _ in range(6):
        xs = np.linspace(lo, hi, 41)
        values = [rise(x) for x in xs]
        k = int(np.argmax(values))
        lo, hi = xs[max(k - 1, 0)], xs[min(k + 1, 40)]
    most = max(values)
    moments = [max(abs(m.members[n + rail].min_moment("Mz", COMBO)) for n in "bs") for rail in "lr"]
    peaks = [max(p, *(abs(m.members[n + rail].max_moment("Mz", COMBO)) for n in "bs"))
             for p, rail in zip(moments, "lr")]
    return share, at_screw, most, of_inside, max(peaks) / sum(peaks)


def cases():
    rng = np.random.default_rng(5)
    for i in range(CASES):
        span, width, height = rng.uniform(500, 900), rng.uniform(20, 35), rng.uniform(45, 80)
        slot, along = rng.uniform(35, 50), rng.uniform(-0.35, 0.35) * span
        across = 0.0 if i % 2 == 0 else rng.uniform(-0.1, 0.1) * (slot + width)
        inside, outside = rng.uniform(22, 35), rng.uniform(22, 35)
        t_in, t_out = rng.choice([12.7, 19.05, 25.4], 2)
        if i == 0:
            along = 0.0
        row = (span, width, height, slot, along, across, inside, outside, t_in, t_out, 40e3)
        yield tuple(round(float(v), 3) for v in row)


def make():
    with RECORDED.open("w", newline="") as f:
        for case in cases():
            text = [f"{v:g}" if i > 9 else f"{v}" for i, v in enumerate(case)]
            f.write(",".join(text + [f"{v:.9g}" for v in solve(*case)]) + "\n")


def check():
    with RECORDED.open(newline="") as f:
        rows = [[float(v) for v in row] for row in csv.reader(f)]
    if len(rows) != CASES:
        sys.exit(f"{len(rows)} rows recorded instead of {CASES}")
    wrong = 0
    for case, row in zip(cases(), rows):
        found = (*case, *solve(*case))
        if any(abs(a - b) > AGREE * max(abs(a), 1e-3) for a, b in zip(found, row)):
            print("recorded", row, "computed", found)
            wrong += 1
    print(f"{len(rows)} bars, {wrong} differ")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    {"make": make, "check": check}[sys.argv[1]]()
