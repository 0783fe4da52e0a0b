"""Sweeps held against dense sampling by FCL (python-fcl).

    sample.py make MOTIONS             writes random motions
    sample.py check MOTIONS ANSWERS    samples each of them with FCL, compares with the answers

The files' lines are those of main.rs, the meshes those of ../gap. The poses
along a motion are computed here once more, by Rodrigues' formula in numpy. FCL measures surfaces
only; whether one body lies inside the other is decided by the winding number of ../gap.

The answers hold when
    - no sample before `clear-until`, the whole motion of a clear one, is blocked: collides, is
      nearer than the need, or is within;
    - no sample is nearer than the `at-least` of a clear one;
    - the pose told as blocked is;
    - from the first contact that FCL finds, by sampling and then halving, to the pose told as
      blocked, no corner moves farther than the tolerance.
"""
import collections
import multiprocessing
import pathlib
import sys

import fcl
import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "gap"))
from reference import HERE as MESHES, Body, matrix  # noqa: E402

PAIRS = [("cup", "valve"), ("valve", "cup"), ("torus", "cylinder"), ("disc", "link"),
         ("drum", "pebble"), ("valve", "link"), ("torus", "pebble")]
KINDS = ["straight", "turn", "screw", "chain"]
MOTIONS = 500
STEPS = 480         # even samples of a motion
CLOSE = 24          # more of them around the contact told
REFINED = 3         # lowest samples looked at more closely
HALVINGS = 40
AGREE = 1e-7        # mm; FCL's distances and ours
LEAST_OF_EACH = 60  # answers of each kind, so that the check means something


def random_unit(rng):
    v = rng.normal(size=3)
    return v / np.linalg.norm(v)


def random_leg(kind, start, rng):
    """Somewhere past the still body, which is about the origin, from a start out there."""
    goal = rng.normal(0, 45, 3)
    if kind == "straight":
        return ["straight", *(goal - start) * rng.uniform(0.5, 1.6)]
    through = rng.normal(0, 60, 3) + start * rng.uniform(0, 0.6)
    way = goal - start
    if kind == "turn" and rng.random() < 0.3:   # anywhere, often several turns
        return ["screw", *through, *random_unit(rng), rng.uniform(-1, 1) * rng.choice([2.0, 8.0]),
                0.0]
    if kind == "turn":                          # about an axis that takes the start to the goal
        direction = np.cross(way, random_unit(rng))
        direction /= np.linalg.norm(direction)
        off, half = np.cross(direction, way), rng.uniform(0.2, 1.4)
        through = (start + goal) / 2 + off / (2 * np.tan(half))
        return ["screw", *through, *direction, 2 * half * rng.uniform(0.5, 1.8), 0.0]
    advance = np.linalg.norm(way) * rng.uniform(0.4, 1.4)
    turns = rng.uniform(-1, 1) * rng.choice([1.0, 4.0])
    # Half of them about an axis through the moving body, as a screw is, half about any.
    through = start + rng.normal(0, 10, 3) if rng.random() < 0.5 else through
    direction = way / np.linalg.norm(way)
    sign = rng.choice([-1, 1])
    return ["screw", *through, *(sign * direction), turns * 2 * np.pi, sign * advance]


def make(path):
    rng = np.random.default_rng(20)
    lines = []
    for number in range(MOTIONS):
        pair = PAIRS[number % len(PAIRS)]
        kind = KINDS[number // len(PAIRS) % len(KINDS)]
        q = rng.normal(size=4)
        q /= np.linalg.norm(q)
        start = random_unit(rng) * rng.uniform(110, 330)
        if pair == ("drum", "pebble") and rng.random() < 0.4:
            start = rng.uniform(-20, 20, 3)     # in the cavity
        if kind == "chain":
            leg = random_leg("straight", start, rng)
            there = start + np.array(leg[1:])
            leg += random_leg(rng.choice(["turn", "screw", "straight"]), there, rng)
        else:
            leg = random_leg(kind, start, rng)
        need = 0.0 if rng.random() < 0.4 else rng.uniform(0, 6)
        tolerance = rng.choice([0.1, 0.01, 0.001])
        words = [*pair, *q, *start, need, tolerance, *leg]
        lines.append(" ".join(w if isinstance(w, str) else repr(float(w)) for w in words))
    path.write_text("\n".join(lines) + "\n")


class Motion:
    """The pose of the moving body along a line of the table."""

    def __init__(self, words):
        words = words.split(" ")
        self.pair = tuple(words[:2])
        numbers = [float(w) for w in words[2:11]]
        self.turn, self.shift = matrix(np.array(numbers[:4])), np.array(numbers[4:7])
        self.need, self.tolerance = numbers[7:]
        self.legs, rest = [], words[11:]
        while rest:
            count = {"straight": 4, "screw": 9}[rest[0]]
            self.legs.append((rest[0], np.array([float(w) for w in rest[1:count]])))
            rest = rest[count:]

    def pose(self, s):
        turn, shift = self.turn, self.shift
        for number, (kind, v) in enumerate(self.legs):
            t = min(max(s * len(self.legs) - number, 0.0), 1.0)
            if kind == "straight":
                shift = shift + v * t
                continue
            through, axis = v[:3], v[3:6] / np.linalg.norm(v[3:6])
            x, y, z = axis
            cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
            angle = v[6] * t
            about = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
            shift = about @ (shift - through) + through + axis * v[7] * t
            turn = about @ turn
        return turn, shift


def inside_box(point, body):
    return (point >= body.v.min(0)).all() and (point <= body.v.max(0)).all()


def distance(a, b, turn, shift):
    """Below zero where they collide or one is within the other."""
    fixed = fcl.CollisionObject(a.model, fcl.Transform())
    moved = fcl.CollisionObject(b.model, fcl.Transform(turn, shift))
    if fcl.collide(fixed, moved, fcl.CollisionRequest(), fcl.CollisionResult()):
        return -1.0
    for holder, guest, place in [(a, b, lambda p: turn @ p + shift),
                                 (b, a, lambda p: turn.T @ (p - shift))]:
        for corner in map(place, guest.shells):
            if inside_box(corner, holder) and abs(holder.winding(corner)) > 0.5:
                return -1.0
    return fcl.distance(fixed, moved, fcl.DistanceRequest(), fcl.DistanceResult())


def kind_of(line):
    """As which kind `make` wrote it."""
    legs = Motion(line).legs
    if len(legs) > 1:
        return "chain"
    kind, v = legs[0]
    return kind if kind == "straight" else "screw" if v[7] else "turn"


BODIES = {}


def body(name):
    if name not in BODIES:
        BODIES[name] = Body(MESHES / "mesh" / f"{name}.obj")
    return BODIES[name]


def blocked(far, need):
    return far < need - AGREE or far <= 0


def compare(job):
    """The faults of one answer, its kind, the lateness in millimetres or None, samples."""
    number, line, answer = job
    motion = Motion(line)
    a, b = (body(name) for name in motion.pair)
    course, *numbers = answer.split(" ")
    clear_until, blocked_at, at_least, queries, microseconds = map(float, numbers)
    known = {}

    def far(s):
        if s not in known:
            known[s] = distance(a, b, *motion.pose(s))
        return known[s]

    def moved(s, t):
        (r0, t0), (r1, t1) = motion.pose(s), motion.pose(t)
        return np.linalg.norm(b.v @ (r1 - r0).T + (t1 - t0), axis=1).max()

    # What is beyond a contact does not matter, so the samples stop at the first blocked one.
    told = blocked_at if course == "blocked" else 1.0
    even = list(np.linspace(0, 1, STEPS + 1))
    close = [told * (1 - 0.5 ** k) for k in range(2, CLOSE)] if course == "blocked" else []
    order = sorted({*even, *close})
    seen = []
    for s in order:
        seen.append(s)
        if blocked(far(s), motion.need):
            break
    # Dips between two samples: the lowest ones, by thirds.
    dips = [i for i in range(1, len(seen) - 1)
            if far(seen[i]) <= far(seen[i - 1]) and far(seen[i]) <= far(seen[i + 1])]
    for i in sorted(dips, key=lambda i: far(seen[i]))[:REFINED]:
        low, high = seen[i - 1], seen[i + 1]
        for _ in range(12):
            third = (high - low) / 3
            if far(low + third) < far(high - third):
                high -= third
            else:
                low += third
    hits = [s for s, d in known.items() if blocked(d, motion.need)]
    first = min(hits, default=None)
    if first:
        clear = max((s for s in known if s < first), default=0.0)
        for _ in range(HALVINGS):
            middle = 0.5 * (clear + first)
            if blocked(far(middle), motion.need):
                first = middle
            else:
                clear = middle

    faults, lateness = [], None
    if course in ("clear", "blocked", "grazing") and first is not None and first < clear_until:
        if course == "clear" or moved(first, clear_until) > AGREE:
            faults.append(f"FCL is blocked at {first}, told clear until {clear_until}")
    if course == "clear" and min(known.values()) < at_least - AGREE:
        faults.append(f"FCL measures {min(known.values())}, proven {at_least}")
    if course in ("blocked", "start") and not far(blocked_at) < motion.need + AGREE:
        faults.append(f"FCL measures {far(blocked_at)} where told blocked")
    if course == "blocked" and first is not None:
        lateness = moved(first, blocked_at) if first < blocked_at else 0.0
        if lateness > motion.tolerance + AGREE:
            faults.append(f"late by {lateness} mm, tolerance {motion.tolerance}")
    if course == "undecided":
        faults.append("closed bodies, and not decided")
    ratio = None if lateness is None else lateness / motion.tolerance
    return number, faults, course, lateness, ratio, len(known), queries, microseconds


def check(motions, answers):
    lines, told = motions.read_text().splitlines(), answers.read_text().splitlines()
    if len(lines) != MOTIONS or len(told) != MOTIONS:
        sys.exit(f"{len(lines)} motions and {len(told)} answers, not {MOTIONS}")
    with multiprocessing.Pool() as pool:
        rows = pool.map(compare, zip(range(1, MOTIONS + 1), lines, told), chunksize=5)
    faults = 0
    for number, found, *_ in rows:
        for fault in found:
            faults += 1
            print(f"motion {number}: {fault}\n    {lines[number - 1]}\n    {told[number - 1]}")
    kinds = collections.Counter(row[2] for row in rows)
    for name in KINDS:
        own = collections.Counter(row[2] for row, line in zip(rows, lines) if kind_of(line) == name)
        print(f"{name}: " + ", ".join(f"{own[k]} {k}" for k in sorted(own)))
    late = [row[3] for row in rows if row[3] is not None]
    print("all: " + ", ".join(f"{kinds[k]} {k}" for k in sorted(kinds)))
    print(f"{sum(row[5] for row in rows)} poses sampled with FCL; queries of ours: median"
          f" {np.median([row[6] for row in rows]):.0f}, most {max(row[6] for row in rows):.0f};"
          f" microseconds a sweep: median {np.median([row[7] for row in rows]):.0f}")
    if late:
        print(f"contacts compared: {len(late)}; worst lateness {max(late):.2e} mm, at most"
              f" {max(row[4] for row in rows if row[4] is not None):.3f} of the tolerance")
    few = [k for k in ("clear", "blocked") if kinds[k] < LEAST_OF_EACH]
    for kind in few:
        print(f"too few motions are {kind}")
    print(f"{MOTIONS} motions, {faults} faults")
    return 1 if faults or few or len(late) < LEAST_OF_EACH else 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["make"] and len(sys.argv) == 3:
        make(pathlib.Path(sys.argv[2]))
    elif sys.argv[1:2] == ["check"] and len(sys.argv) == 4:
        sys.exit(check(*map(pathlib.Path, sys.argv[2:])))
    else:
        sys.exit(__doc__)
