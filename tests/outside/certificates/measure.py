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

SAME = 1e-5  # Rounding, and the points of witnesses off their triangles.
WAYS = [np.array(way) / np.linalg.norm(way)
        for way in np.ndindex(3, 3, 3) if way != (1, 1, 1) for way in [np.array(way) - 1]]


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
        self.count["of these overlapping"] += 1
        return most >= 0.0 or self.deeper(a, b, -most)


def better(bench, certificate, placement, bound, order):
    """Whether a placement leaves more than a bound. Pairs that did not come first in `order`."""
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


def reach(witness):
    """What a witness says that the gap is at the most; below zero, how deep the overlap is."""
    p, q = (np.reshape(place["turn"], (3, 3)) @ point + place["shift"]
            for place, point in zip(witness["places"], witness["points"]))
    away = p - q
    if witness.get("across"):
        # The nearest of the rectangle: its sides are square to each other.
        turn = np.reshape(witness["places"][1]["turn"], (3, 3))
        for side in (turn @ half for half in witness["across"]):
            square = side @ side
            if square > 0.0:
                away = away - side * np.clip(away @ side / square, -1.0, 1.0)
    return np.linalg.norm(away) - witness["depth"]


def holds(bench, witness, most):
    """Whether the two parts are no farther apart, or overlap no less, than a witness says."""
    a, b = bench.pair(*witness["places"])
    return bench.within(a, b, most + SAME)


def check(folder):
    """Faults of a folder of drawn placements, with counts."""
    bench, faults = Bench(folder), []
    count = bench.count
    for certificate in json.loads((folder / "drawn.json").read_text()):
        count["certificates"] += 1
        count["placements drawn"] += certificate["tried"]
        count["that keep the tolerances"] += certificate["kept"]
        count["certificates with some"] += certificate["kept"] > 0
        order, bound, about = list(certificate["pairs"]), certificate["bound"], certificate["about"]
        for placement in certificate["placements"]:
            count["left to FCL"] += placement["rules"] > bound
            if better(bench, certificate, placement, bound, order):
                faults.append(f"{about}: a placement leaves more than {bound}")
            if placement["found"]:
                # The program found it within 0.1 mm of the bound, or says that it got no nearer.
                count["placements found by the program"] += 1
                count["a bound 1 mm lower, noticed"] += better(
                    bench, certificate, placement, bound - 1.0, order)
        for witness in certificate["witnesses"]:
            most = reach(witness)
            count["witnesses"] += 1
            count["of these overlaps"] += witness["depth"] > 0.0
            count["of these rectangles"] += bool(witness.get("across"))
            if not holds(bench, witness, most):
                faults.append(f"{about}: {witness['names']} are not within {most}")
            if witness["depth"] == 0.0 and not witness.get("across") and most > 0.0:
                # One point moved nine tenths of the way to the other.
                count["points that may be moved"] += 1
                count["a point moved, noticed"] += not holds(bench, witness, 0.1 * most)
            elif witness["depth"] > 0.0:
                count["depths that may be deepened"] += 1
                count["a depth of a metre more, noticed"] += not holds(bench, witness, most - 1000.0)
    return faults, count


def main(drawn, overcup, examples):
    examples = pathlib.Path(examples)
    kit = examples / "kit.toml"
    total, failed = collections.Counter(), 0
    for case in sorted(examples.glob("*/case.toml")):
        with tempfile.TemporaryDirectory() as scratch:
            folder = pathlib.Path(scratch)
            record = folder / "record.json"
            with record.open("w") as file:
                done = subprocess.run([overcup, "check", case, "--kit", kit, "--json"], stdout=file)
            if done.returncode not in (0, 1):
                sys.exit(f"{case}: overcup ended with {done.returncode}")
            subprocess.run([drawn, record, case, kit, folder], check=True)
            faults, count = check(folder)
        total += count
        failed += len(faults)
        counts = ", ".join(f"{n} {what}" for what, n in count.items())
        print(f"{case.parent.name}: {counts}; {len(faults)} faults", flush=True)
        for fault in faults[:10]:
            print("   ", fault)
    print("all:", ", ".join(f"{n} {what}" for what, n in total.items()), f"; {failed} faults")
    print(total)
    sys.exit(1 if failed else 0)


main(*sys.argv[1:])
