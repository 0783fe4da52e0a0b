"""Distances between posed meshes by FCL (python-fcl), to hold the gap engine against.

    reference.py make     writes mesh/*.obj and recorded.csv
    reference.py check    recomputes every row of recorded.csv from the files and compares

FCL measures surfaces only. Whether one body lies inside the other is decided here by the winding
number, summed over all triangles with numpy (van Oosterom and Strackee's solid angle).

Lengths are millimetres. A row of recorded.csv is
    pair, qw, qx, qy, qz, tx, ty, tz, state, distance
where the pose takes coordinates of the second mesh into the frame of the first, and the state is
    cross   the surfaces meet (FCL collision), distance 0
    held    they do not, and one body holds a shell of the other; the surfaces' distance
    apart   neither; the distance
"""
import csv
import pathlib
import sys

import fcl
import numpy as np

HERE = pathlib.Path(__file__).parent
PAIRS = {"cup": "valve", "torus": "cylinder", "disc": "link", "drum": "pebble"}
POSES = 700
AGREE = 1e-7  # FCL against itself: recorded values have nine decimals.


# Meshes. Each is a list of closed shells (vertices, triangles), wound outward.

def revolve(profile, n):
    """Turns a closed profile of (radius, height) about z."""
    profile = np.asarray(profile, float)
    m = len(profile)
    angle = 2 * np.pi * np.arange(n) / n
    v = np.stack([np.outer(np.cos(angle), profile[:, 0]),
                  np.outer(np.sin(angle), profile[:, 0]),
                  np.tile(profile[:, 1], (n, 1))], -1).reshape(-1, 3)
    f = []
    for i in range(n):
        for j in range(m):
            a, b = i * m + j, i * m + (j + 1) % m
            c, d = (i + 1) % n * m + j, (i + 1) % n * m + (j + 1) % m
            f += [(a, c, b), (b, c, d)]
    return outward(v, np.array(f))


def outward(v, f):
    """Merges corners at one place, drops triangles without area and turns the shell outward."""
    v, where = np.unique(np.round(v, 3), axis=0, return_inverse=True)
    f = where.reshape(-1)[f]
    f = f[(f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])]
    volume = np.einsum("ij,ij->i", v[f[:, 0]], np.cross(v[f[:, 1]], v[f[:, 2]])).sum()
    return v, f if volume > 0 else f[:, ::-1]


def prism(outline, low, high):
    """A convex outline from low to high."""
    n = len(outline)
    v = [(x, y, z) for z in (low, high) for x, y in outline]
    f = [(i, (i + 1) % n, n + i) for i in range(n)]
    f += [((i + 1) % n, n + (i + 1) % n, n + i) for i in range(n)]
    f += [(0, i + 1, i) for i in range(1, n - 1)] + [(n, n + i, n + i + 1) for i in range(1, n - 1)]
    return outward(np.array(v, float), np.array(f))


def circle(radius, n, at=(0.0, 0.0)):
    t = 2 * np.pi * np.arange(n) / n
    return [(at[0] + radius * np.cos(a), at[1] + radius * np.sin(a)) for a in t]


def turned(shell, turn):
    v, f = shell
    return outward(v @ np.asarray(turn, float).T, f)


def placed(shell, by):
    return outward(shell[0] + by, shell[1])


def cup():
    """Open below: wall, crown and a lip at the rim."""
    return [revolve([(0, 150), (0, 140), (52, 140), (55, 137), (55, 0), (68, 0), (68, 8), (60, 12),
                     (60, 144), (54, 150)], 72)]


def valve():
    """Flange, bonnet, outlet and handwheel: shells that run into each other."""
    body = revolve([(0, 0), (45, 0), (45, 14), (26, 20), (24, 70), (14, 80), (0, 80)], 48)
    outlet = placed(turned(revolve([(0, 0), (15, 0), (15, 62), (0, 62)], 32),
                           [[0, 0, 1], [0, 1, 0], [-1, 0, 0]]), (0, 0, 45))
    stem = revolve([(0, 75), (4, 75), (4, 118), (0, 118)], 16)
    wheel = placed(revolve([(28 + 4 * np.cos(t), 4 * np.sin(t))
                            for t in 2 * np.pi * np.arange(12) / 12], 36), (0, 0, 112))
    return [body, outlet, stem, wheel]


def torus():
    return [revolve([(60 + 11 * np.cos(t), 11 * np.sin(t))
                     for t in 2 * np.pi * np.arange(24) / 24], 64)]


def cylinder():
    return [prism(circle(12, 64), -70, 70)]


def disc():
    """Rough like a scan, 0.3 mm of noise, with hexagon nuts standing on it."""
    noise = np.random.default_rng(7)
    rings, n = 14, 48
    v, f = [(0.0, 0.0, 20.0)], []
    for ring in range(1, rings + 1):
        for x, y in circle(220.0 * ring / rings, n):
            v.append((x, y, 20.0))
    v = np.array(v)
    v[:, 2] += noise.uniform(-0.3, 0.3, len(v))
    at = lambda ring, i: 1 + (ring - 1) * n + i % n
    f += [(0, at(1, i), at(1, i + 1)) for i in range(n)]
    for ring in range(1, rings):
        for i in range(n):
            f += [(at(ring, i), at(ring + 1, i), at(ring + 1, i + 1)),
                  (at(ring, i), at(ring + 1, i + 1), at(ring, i + 1))]
    base = len(v)
    v = np.vstack([v, [(x, y, 0.0) for x, y in circle(220.0, n)]])
    for i in range(n):
        a, b, c, d = at(rings, i), at(rings, i + 1), base + i, base + (i + 1) % n
        f += [(a, c, b), (b, c, d)]
    f += [(base, base + i + 1, base + i) for i in range(1, n - 1)]
    nuts = [prism(circle(18, 6, at=(185 * np.cos(t), 185 * np.sin(t))), 19, 42)
            for t in 2 * np.pi * np.arange(12) / 12]
    return [outward(v, np.array(f))] + nuts


def link():
    """A flat bar with a hole near each end: two square ends and a middle that runs into them."""
    half, thick, reach, hole = 19.0, 12.7, 110.0, 8.0
    shells = []
    for end in (-1, 1):
        outer, inner, n = [], [], 24
        for t in 2 * np.pi * np.arange(n) / n:
            c, s = np.cos(t), np.sin(t)
            k = half / max(abs(c), abs(s))
            outer.append((end * reach + k * c, k * s))
            inner.append((end * reach + hole * c, hole * s))
        v = [(x, y, z) for z in (0.0, thick) for ring in (outer, inner) for x, y in ring]
        f = []
        for i in range(n):
            j = (i + 1) % n
            o0, o1, i0, i1 = i, j, n + i, n + j
            for a, b, c, d in [(o0, o1, i0, i1), (2 * n + i0, 2 * n + i1, 2 * n + o0, 2 * n + o1),
                               (2 * n + o0, 2 * n + o1, o0, o1), (i0, i1, 2 * n + i0, 2 * n + i1)]:
                f += [(a, c, b), (b, c, d)]
        shells.append(outward(np.array(v), np.array(f)))
    middle = [(-reach + half - 0.5, -half), (reach - half + 0.5, -half),
              (reach - half + 0.5, half), (-reach + half - 0.5, half)]
    shells.append(prism(middle, 0.0, thick))
    return shells


def drum():
    """A thick drum with a closed cavity: the inner shell is wound the other way."""
    v, f = prism(circle(50, 40), -40, 40)
    return [prism(circle(100, 48), -80, 80), (v, f[:, ::-1])]


def pebble():
    noise = np.random.default_rng(8)
    n, profile = 24, [(14 * np.sin(t), 10 * np.cos(t)) for t in np.linspace(0, np.pi, 13)]
    v, f = revolve(profile, n)
    return [outward(v + noise.uniform(-0.4, 0.4, v.shape), f)]


def write_obj(path, shells):
    lines, base = [], 1
    for v, f in shells:
        lines += ["v %.3f %.3f %.3f" % tuple(p) for p in v]
        lines += ["f %d %d %d" % tuple(base + t) for t in f]
        base += len(v)
    path.write_text("\n".join(lines) + "\n")


def read_obj(path):
    v, f = [], []
    for line in path.read_text().splitlines():
        kind, *rest = line.split()
        (v if kind == "v" else f).append([float(x) if kind == "v" else int(x) - 1 for x in rest])
    return np.array(v), np.array(f)


# Measuring.

class Body:
    def __init__(self, path):
        self.v, self.f = read_obj(path)
        self.model = fcl.BVHModel()
        self.model.beginModel(len(self.v), len(self.f))
        self.model.addSubModel(self.v, self.f)
        self.model.endModel()
        self.shells = self.first_corners()

    def first_corners(self):
        """One corner of each connected shell."""
        group = np.arange(len(self.v))
        while True:
            least = group.copy()
            for i in range(3):
                for j in range(3):
                    np.minimum.at(least, self.f[:, i], group[self.f[:, j]])
            if (least == group).all():
                return self.v[np.unique(group[self.f[:, 0]])]
            group = least

    def winding(self, point):
        a, b, c = (self.v[self.f[:, i]] - point for i in range(3))
        la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
        dot = lambda x, y: np.einsum("ij,ij->i", x, y)
        volume = dot(a, np.cross(b, c))
        return np.arctan2(volume, la * lb * lc + dot(a, b) * lc + dot(b, c) * la
                          + dot(c, a) * lb).sum() / (2 * np.pi)


def matrix(q):
    w, x, y, z = q / np.linalg.norm(q)
    return np.array([[1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
                     [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
                     [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)]])


def measure(a, b, q, t):
    turn = matrix(q)
    fixed = fcl.CollisionObject(a.model, fcl.Transform())
    moved = fcl.CollisionObject(b.model, fcl.Transform(turn, t))
    if fcl.collide(fixed, moved, fcl.CollisionRequest(), fcl.CollisionResult()):
        return "cross", 0.0
    distance = fcl.distance(fixed, moved, fcl.DistanceRequest(), fcl.DistanceResult())
    held = any(abs(a.winding(turn @ p + t)) > 0.5 for p in b.shells) or \
        any(abs(b.winding(turn.T @ (p - t))) > 0.5 for p in a.shells)
    return ("held" if held else "apart"), distance


def random_pose(kind, k, rng):
    q = rng.normal(size=4)
    if kind == "cup":       # over the valve, tilted a little; every third anywhere
        if k % 3:
            q = np.array([1.0, *rng.normal(0, 0.02, 2), 0.0])
            spin = rng.uniform(0, np.pi)
            w, x, y, _ = q
            c, s = np.cos(spin), np.sin(spin)
            q = np.array([w * c, x * c + y * s, y * c - x * s, w * s])
            t = np.array([*rng.normal(0, 5, 2), rng.uniform(-160, 60)])
        else:
            t = rng.normal(0, 90, 3) + (0, 0, 70)
    elif kind == "torus":
        t = rng.uniform(-90, 90, 3)
    elif kind == "drum":    # in the wall, in the cavity, through either surface, outside
        t = rng.uniform(-1, 1, 3) * (120, 120, 100)
    else:                   # the link near the disc's top, flat every other time
        if k % 2:
            spin = rng.uniform(0, np.pi)
            q = np.array([np.cos(spin), 0, 0, np.sin(spin)])
            t = np.array([*rng.uniform(-150, 150, 2), rng.uniform(18, 60)])
        else:
            t = np.array([*rng.uniform(-220, 220, 2), rng.uniform(20, 170)])
    return np.round(q / np.linalg.norm(q), 12), np.round(t, 6)


def make():
    for name in [*PAIRS, *PAIRS.values()]:
        write_obj(HERE / "mesh" / f"{name}.obj", globals()[name]())
    rows = []
    for seed, (first, second) in enumerate(PAIRS.items()):
        rng = np.random.default_rng(seed)
        a, b = (Body(HERE / "mesh" / f"{n}.obj") for n in (first, second))
        for k in range(POSES):
            q, t = random_pose(first, k, rng)
            state, distance = measure(a, b, q, t)
            rows.append([first, *("%.12g" % x for x in q), *("%.6f" % x for x in t), state,
                         "%.9f" % distance])
    with open(HERE / "recorded.csv", "w", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)
    for pair in PAIRS:
        states = [r[8] for r in rows if r[0] == pair]
        print(pair, {s: states.count(s) for s in sorted(set(states))})


def check():
    bodies = {n: Body(HERE / "mesh" / f"{n}.obj") for n in [*PAIRS, *PAIRS.values()]}
    worst, count, faults = 0.0, 0, 0
    with open(HERE / "recorded.csv", newline="") as recorded:
        for number, row in enumerate(csv.reader(recorded), 1):
            pair, state, distance = row[0], row[8], float(row[9])
            pose = np.array([float(x) for x in row[1:8]])
            now, far = measure(bodies[pair], bodies[PAIRS[pair]], pose[:4], pose[4:])
            count += 1
            worst = max(worst, abs(far - distance))
            if now != state or abs(far - distance) > AGREE:
                faults += 1
                print(f"row {number}: recorded {state} {distance}, FCL now {now} {far:.9f}")
    print(f"{count} poses recomputed with FCL, worst difference {worst:.2e} mm, {faults} faults")
    return 1 if faults or count < 2000 else 0


if __name__ == "__main__":
    if sys.argv[1:] == ["make"]:
        make()
    elif sys.argv[1:] == ["check"]:
        sys.exit(check())
    else:
        sys.exit(__doc__)
