"""A rail as a plate in plane stress, and a pin in its links as a beam in holes that only press.

    reference.py make     writes bars.csv and pins.csv
    reference.py check    recomputes every row and compares

The rail: quadrilaterals with eight nodes, eight over its height. The block presses it from below over
70 mm, the saddles hold it down from above over 21 mm each, evenly; what it rises is that of its middle
height at the screw against the line between those over the saddles. A row is
    span, rail width, rail height, along, load, what it rises at the screw

The pin: a beam that bends and shears on springs along links and stem, which press and never pull. The
links' holes stand still; the stem is pulled at its middle and may turn. Springs from soft to stiff, since
nobody knows how a pin beds in its hole. A row is
    pin, stem, inside thickness, outside thickness, distance of the inner faces, place of the stem's middle
    from midway toward the outside, stiffness of the bed over Young's modulus,
    share of the inside link, greatest moment over the pull

Lengths are millimetres, forces newtons, steel with 200 000 N/mm2 and Poisson's ratio 0.3.
"""
import csv
import pathlib
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

HERE = pathlib.Path(__file__).parent
E, NU = 200e3, 0.3
G = E / (2 * (1 + NU))
BLOCK, SADDLE, OVERHANG, OVER_HEIGHT = 70.0, 21.0, 60.0, 8
BARS, PINS, PIECES = 16, 60, 240
AGREE = 1e-6
GAUSS = [(-np.sqrt(0.6), 5 / 9), (0.0, 8 / 9), (np.sqrt(0.6), 5 / 9)]


def shapes(x, y):
    """Derivatives of the eight shape functions at a point of the square from -1 to 1."""
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    dx = [a * (1 + b * y) * (2 * a * x + b * y) / 4 for a, b in corners]
    dy = [b * (1 + a * x) * (2 * b * y + a * x) / 4 for a, b in corners]
    dx += [-x * (1 - y), (1 - y * y) / 2, -x * (1 + y), -(1 - y * y) / 2]
    dy += [-(1 - x * x) / 2, -y * (1 + x), (1 - x * x) / 2, -y * (1 - x)]
    return np.array([dx, dy])


def element(a, b, thickness):
    """Stiffness of an element a by b."""
    d = E / (1 - NU**2) * np.array([[1, NU, 0], [NU, 1, 0], [0, 0, (1 - NU) / 2]])
    k = np.zeros((16, 16))
    for x, u in GAUSS:
        for y, v in GAUSS:
            along, up = shapes(x, y) * np.array([[2 / a], [2 / b]])
            s = np.zeros((3, 16))
            s[0, 0::2], s[1, 1::2], s[2, 0::2], s[2, 1::2] = along, up, up, along
            k += s.T @ d @ s * thickness * a * b / 4 * u * v
    return k


def rail(span, width, height, along, load):
    """How far a pair of rails rises at the screw; each bears half."""
    half = span / 2
    # Elements' edges where loads begin and end, and where is looked at.
    marks = sorted({-half - OVERHANG, -half - SADDLE / 2, -half, -half + SADDLE / 2, along - BLOCK / 2, along,
                    along + BLOCK / 2, half - SADDLE / 2, half, half + SADDLE / 2, half + OVERHANG})
    xs = [marks[0]]
    for start, stop in zip(marks, marks[1:]):
        xs += list(np.linspace(start, stop, max(1, round((stop - start) / (height / OVER_HEIGHT))) + 1)[1:])
    nx, ny, b = len(xs) - 1, OVER_HEIGHT, height / OVER_HEIGHT
    # Nodes: corners, middles of level edges, middles of upright edges.
    corner = lambda i, j: i * (ny + 1) + j
    level = lambda i, j: (nx + 1) * (ny + 1) + i * (ny + 1) + j
    upright = lambda i, j: (nx + 1) * (ny + 1) + nx * (ny + 1) + i * ny + j
    count = (nx + 1) * (ny + 1) + nx * (ny + 1) + (nx + 1) * ny
    rows, cols, values = [], [], []
    force = np.zeros(2 * count)
    parts = [(along, BLOCK, 0, 0.5 * load), (half, SADDLE, ny, -0.5 * load * (0.5 + along / span)),
             (-half, SADDLE, ny, -0.5 * load * (0.5 - along / span))]
    for i in range(nx):
        a = xs[i + 1] - xs[i]
        k = element(a, b, width)
        for j in range(ny):
            nodes = [corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1),
                     level(i, j), upright(i + 1, j), level(i, j + 1), upright(i, j)]
            at = np.array([2 * n + c for n in nodes for c in (0, 1)])
            rows.append(np.repeat(at, 16))
            cols.append(np.tile(at, 16))
            values.append(k.ravel())
        middle = (xs[i] + xs[i + 1]) / 2
        for place, length, j, whole in parts:
            if abs(middle - place) < length / 2:
                part = whole * a / length
                for node, share in ((corner(i, j), 1 / 6), (corner(i + 1, j), 1 / 6), (level(i, j), 2 / 3)):
                    force[2 * node + 1] += part * share
    assert abs(force.sum()) < 1e-6 * load
    k = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols)))).tocsr()
    at = lambda x: 2 * corner(int(np.argmin(np.abs(np.array(xs) - x))), ny // 2)
    # Held still without a force: the loads are in balance.
    held = [at(-half), at(-half) + 1, at(half) + 1]
    free = np.setdiff1d(np.arange(2 * count), held)
    u = np.zeros(2 * count)
    u[free] = spsolve(k[free][:, free].tocsc(), force[free])
    return u[at(along) + 1]


def pin(diameter, stem, t_in, t_out, apart, off, bed):
    """Share of the inside link, greatest moment over the pull."""
    left, right = -apart / 2 - t_in, apart / 2 + t_out
    marks = sorted({left, -apart / 2, off - stem / 2, off, off + stem / 2, apart / 2, right})
    xs = [marks[0]]
    for start, stop in zip(marks, marks[1:]):
        pieces = max(2, round(PIECES * (stop - start) / (right - left)))
        xs += list(np.linspace(start, stop, pieces + 1)[1:])
    xs = np.array(xs)
    n = len(xs)
    i, area = np.pi * diameter**4 / 64, np.pi * diameter**2 / 4
    k = np.zeros((2 * n + 2, 2 * n + 2))
    for e, h in enumerate(np.diff(xs)):
        # Timoshenko's beam, shear with 9/10 of a circle's area.
        phi = 12 * E * i / (0.9 * G * area * h * h)
        m = E * i / (h**3 * (1 + phi)) * np.array([
            [12, 6 * h, -12, 6 * h], [6 * h, (4 + phi) * h * h, -6 * h, (2 - phi) * h * h],
            [-12, -6 * h, 12, -6 * h], [6 * h, (2 - phi) * h * h, -6 * h, (4 + phi) * h * h]])
        k[2 * e:2 * e + 4, 2 * e:2 * e + 4] += m
    # Springs in the middle of half pieces would do; at nodes, each with what lies half way on either side
    # within its part.
    springs = []
    for part, (low, high) in enumerate([(left, -apart / 2), (apart / 2, right), (off - stem / 2, off + stem / 2)]):
        for e in range(n):
            reach = sum(abs(min(max(xs[o], low), high) - min(max(xs[e], low), high)) / 2
                        for o in (e - 1, e + 1) if 0 <= o < n)
            if reach > 0:
                springs.append((part, e, bed * E * reach))
    load = np.zeros(2 * n + 2)
    load[2 * n] = 1000.0  # On the stem: its rise, then its turn.
    press = {s: True for s in range(len(springs))}
    for _ in range(200):
        whole = k.copy()
        vectors = []
        for s, (part, e, stiff) in enumerate(springs):
            v = np.zeros(2 * n + 2)
            if part < 2:
                v[2 * e] = 1.0
            else:
                v[2 * n], v[2 * n + 1], v[2 * e] = 1.0, xs[e] - off, -1.0
            vectors.append(v)
            if press[s]:
                at = np.nonzero(v)[0]
                whole[np.ix_(at, at)] += stiff * np.outer(v[at], v[at])
        u = np.linalg.solve(whole, load)
        now = {s: vectors[s] @ u > 0 for s in press}
        if now == press:
            break
        press = now
    else:
        sys.exit("contact does not settle")
    forces = np.zeros(n)
    share = [0.0, 0.0]
    for s, (part, e, stiff) in enumerate(springs):
        if press[s]:
            f = stiff * (vectors[s] @ u)
            forces[e] += f if part == 2 else -f
            if part < 2:
                share[part] += f / 1000.0
    assert abs(sum(share) - 1) < 1e-8 and abs(forces @ xs) < 1e-4
    moments = [abs(np.sum(forces[:e] * (x - xs[:e]))) for e, x in enumerate(xs)]
    return share[0], max(moments) / 1000.0


def bars():
    rng = np.random.default_rng(11)
    for i in range(BARS):
        span, width, height = rng.uniform(500, 900), rng.uniform(20, 35), rng.uniform(45, 80)
        along = 0.0 if i == 0 else rng.uniform(-0.3, 0.3) * span
        yield tuple(round(float(v), 3) for v in (span, width, height, along, 40e3))


def pins():
    rng = np.random.default_rng(12)
    for _ in range(PINS):
        diameter, stem = rng.uniform(12, 25), rng.uniform(15, 30)
        t_in, t_out = rng.choice([12.7, 19.05, 25.4], 2)
        apart = stem + rng.uniform(0.2, 5)
        off = rng.uniform(-0.5, 0.5) * (apart - stem)
        bed = 10 ** rng.uniform(-1.5, 0.5)
        yield tuple(round(float(v), 4) for v in (diameter, stem, t_in, t_out, apart, off, bed))


TABLES = {"bars.csv": (bars, lambda *c: (rail(*c),)), "pins.csv": (pins, pin)}


def make():
    for name, (cases, solve) in TABLES.items():
        with (HERE / name).open("w", newline="") as f:
            for case in cases():
                f.write(",".join([f"{v:g}" if v >= 1e4 else f"{v}" for v in case]
                                 + [f"{v:.9g}" for v in solve(*case)]) + "\n")


def check():
    wrong = 0
    for name, (cases, solve) in TABLES.items():
        with (HERE / name).open(newline="") as f:
            rows = [[float(v) for v in row] for row in csv.reader(f)]
        if len(rows) != len(list(cases())):
            sys.exit(f"{name}: {len(rows)} rows recorded")
        for case, row in zip(cases(), rows):
            found = (*case, *solve(*case))
            if any(abs(a - b) > AGREE * max(abs(a), 1e-3) for a, b in zip(found, row)):
                print(name, "recorded", row, "computed", found)
                wrong += 1
        print(f"{name}: {len(rows)} rows")
    print(f"{wrong} differ")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    {"make": make, "check": check}[sys.argv[1]]()
