"""Measures placements drawn for certificates with FCL and holds what it finds against the bounds.

    measure.py DRAWN OVERCUP EXAMPLES

FCL stands for the distances and overlaps alone. Which pairs there are, the gaps asked for, the
deviations and what the placing rules leave come from the program; the poses from `recheck`.

A placement does better than a bound when every placing rule and every pair of parts leave more; so
one pair that leaves no more, found with FCL, is enough. How deep an overlap is FCL does not tell: it
counts as deeper than a length when the parts still overlap after one was shifted by that length, a
fixed number of ways. Lengths are millimetres.
"""
import collections
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "shared"))
from bodies import Body, distance, overlap  # noqa: E402

RANDOM = 20  # Random car tops of tests/verdicts.
SAME = 1e-5  # Rounding, and the points of witnesses off their triangles.
# The ways to the faces, edges and corners of a cube.
CUBE = [np.subtract(at, 1) for at in np.ndindex(3, 3, 3) if at != (1, 1, 1)]
WAYS = [way / np.linalg.norm(way) for way in CUBE]
# What is counted; fewer of it show too little. Falsehoods must be noticed that often.
LEAST = {
    "certificates": 100, "certificates with placements": 30, "placements drawn": 1,
    "that keep the tolerances": 300, "left to FCL": 300, "pairs measured": 3000,
    "pairs overlapping": 300, "placements of the search": 5, "a bound 1 mm lower, noticed": 5,
    "witnesses": 300, "by two surfaces": 5, "by a rectangle": 50, "by an overlap": 50,
    "a point moved, noticed": 100, "a depth 50 mm more, noticed": 100,
}


class Bench:
    """The bodies of a folder, and what was counted."""

    def __init__(self, folder):
        self.folder, self.known, self.count = folder, {}, collections.Counter()

    def put(self, place):
        """The body of a place, put there."""
        number = place["mesh"]
        if number not in self.known:
            self.known[number] = Body(self.folder / f"{number}.obj")
        self.known[number].put(place["turn"], place["shift"])
        return self.known[number]

    def pair(self, one, other):
        """Two bodies in their places; one mesh in two places is two bodies."""
        a = self.put(one)
        if one["mesh"] == other["mesh"]:
            b = Body(self.folder / f"{other['mesh']}.obj")
            b.put(other["turn"], other["shift"])
            return a, b
        return a, self.put(other)

    def deeper(self, a, b, length):
        """Whether an overlap is deeper than a length, as far as the ways tried show."""
        turn, shift = b.turn, b.shift
        still = True
        for way in WAYS:
            b.put(turn, shift + way * length)
            still = still and overlap(a, b)
        b.put(turn, shift)
        return still

    def within(self, a, b, most):
        """Whether the gap, or less the depth of an overlap, is no more than this."""
        self.count["pairs measured"] += 1
        found = distance(a, b)
        if found > 0.0:
            return found <= most
        self.count["pairs overlapping"] += 1
        return most >= 0.0 or self.deeper(a, b, -most)


def better(bench, certificate, placement, bound, order):
    """Whether a placement leaves more than a bound. The pair that shows that it does not is moved to
    the front of `order`, since it will often do so again."""
    if placement["rules"] <= bound + SAME:
        return False
    sign = 1 if certificate["high"] else -1
    places = placement["places"]
    for at, (i, j, need) in enumerate(order):
        off = sign * (places[i]["deviation"] + places[j]["deviation"])
        if bench.within(*bench.pair(places[i], places[j]), bound + need - off + SAME):
            order.insert(0, order.pop(at))
            return False
    return True


def way(witness):
    """From the nearest place of the second point or rectangle to the first point, plate frame."""
    p, q = (np.reshape(place["turn"], (3, 3)) @ point + place["shift"]
            for place, point in zip(witness["places"], witness["points"]))
    away = p - q
    turn = np.reshape(witness["places"][1]["turn"], (3, 3))
    sides = [turn @ half for half in witness.get("across") or []]
    if sides and abs(sides[0] @ sides[1]) > 1e-9 * (1.0 + np.linalg.norm(sides, axis=1).prod()):
        sys.exit(f"the sides of a rectangle are not square to each other: {sides}")
    for side in sides:
        if square := side @ side:
            away = away - side * np.clip(away @ side / square, -1.0, 1.0)
    return away


def reach(witness):
    """What a witness says that the gap is at the most; below zero, how deep the overlap is."""
    return np.linalg.norm(way(witness)) - witness["depth"]


def moved(witness):
    """The same with its first point moved nine tenths of the way to the second."""
    turn = np.reshape(witness["places"][0]["turn"], (3, 3))
    points = [witness["points"][0] - turn.T @ (0.9 * way(witness)), witness["points"][1]]
    return witness | {"points": points}


def deepened(witness):
    """The same with its depth 50 mm more."""
    return witness | {"depth": witness["depth"] + 50.0}


def holds(bench, witness):
    """Whether the two parts are no farther apart, or overlap no less, than a witness says."""
    return bench.within(*bench.pair(*witness["places"]), reach(witness) + SAME)


def check(folder):
    """Faults of a folder of drawn placements, with counts."""
    bench, faults = Bench(folder), []
    count = bench.count
    for certificate in json.loads((folder / "drawn.json").read_text()):
        count["certificates"] += 1
        count["placements drawn"] += certificate["tried"]
        count["that keep the tolerances"] += certificate["kept"]
        count["certificates with placements"] += certificate["kept"] > 0
        order, bound, about = list(certificate["pairs"]), certificate["bound"], certificate["about"]
        for placement in certificate["placements"]:
            count["left to FCL"] += placement["rules"] > bound
            if better(bench, certificate, placement, bound, order):
                faults.append(f"{about}: a placement leaves more than {bound}")
            if placement["found"]:
                # Most are within 0.1 mm of the bound.
                count["placements of the search"] += 1
                count["a bound 1 mm lower, noticed"] += better(
                    bench, certificate, placement, bound - 1.0, order)
        for witness in certificate["witnesses"]:
            count["witnesses"] += 1
            count["by two surfaces"] += witness["on surfaces"]
            count["by a rectangle"] += bool(witness.get("across"))
            count["by an overlap"] += reach(witness) < 0.0
            if not holds(bench, witness):
                faults.append(f"{about}: {witness['names']} are not within {reach(witness)} mm")
            count["a point moved, noticed"] += not holds(bench, moved(witness))
            count["a depth 50 mm more, noticed"] += not holds(bench, deepened(witness))
    return faults, count


def words(count):
    """Counts in words."""
    return ", ".join(f"{count[what]} {what}" for what in LEAST)


def main(drawn, overcup, examples):
    examples = pathlib.Path(examples)
    kit = examples / "kit.toml"
    total, failed = collections.Counter(), 0
    cases = sorted(examples.glob("*/case.toml"))
    for case in [*cases, None]:
        with tempfile.TemporaryDirectory() as scratch:
            folder = pathlib.Path(scratch)
            if case:
                record = folder / "record.json"
                with record.open("w") as file:
                    told = subprocess.run(
                        [overcup, "check", case, "--kit", kit, "--json"], stdout=file)
                if told.returncode not in (0, 1):
                    sys.exit(f"{case}: overcup ended with {told.returncode}")
                subprocess.run([drawn, record, case, kit, folder], check=True)
            else:
                subprocess.run([drawn, str(RANDOM), folder], check=True)
            faults, count = check(folder)
        total += count
        failed += len(faults)
        name = case.parent.name if case else f"{RANDOM} random car tops"
        print(f"{name}: {words(count)}; {len(faults)} faults", flush=True)
        for fault in faults[:10]:
            print("   ", fault)
    print(f"all: {words(total)}; {failed} faults")
    for what, least in LEAST.items():
        if total[what] < least:
            print(f"{total[what]} {what}, fewer than {least}: the comparison shows too little")
            failed += 1
    sys.exit(1 if failed else 0)


main(*sys.argv[1:])
