"""Overlaps held against manifold3d's booleans and scipy's hulls.

    compare.py make FOLDER      writes random pairs of bodies and their poses
    compare.py check FOLDER     compares the answers with the references

The files are those of main.rs. The references:

    - volume and crossing lines: the intersection by manifold3d. Its triangles tell which body they
      come from, and the edges between those of one and the other are the crossing.
    - depth of two convex bodies: the least distance of the origin from a face of the convex hull
      of all differences of their corners (the penetration depth of S. Cameron and R. Culley,
      "Determining the minimum translational distance between two convex polyhedra", ICRA 1986;
      from memory).
"""
import pathlib
import sys

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from scipy.spatial import ConvexHull

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "gap"))
from reference import matrix  # noqa: E402

PAIRS = 300
CONVEX_PAIRS = 150
SEED = 20
VOLUME = 1e-12    # of the smaller body's volume
LENGTH = 1e-10    # of the line's length and of the smaller body's size
DEPTH = 1e-9      # mm
LEAST_ANSWERED = 0.98   # of the volumes; the engine may say that it has none


def random_turn(rng):
    q = rng.normal(size=4)
    return q / np.linalg.norm(q)


def valve(rng):
    """A fitting: flange, bonnet and stem, one body."""
    chords = int(rng.integers(12, 48))
    body = Manifold.cylinder(18, 45, 45, chords) + Manifold.cylinder(100, 26, 22, chords)
    return body + Manifold.cylinder(140, 4.3, 4.3, chords)


def bell(rng):
    """A cup: a wall that is open at the bottom, with a flange."""
    chords = int(rng.integers(16, 60))
    outer = Manifold.cylinder(120, 62, 62, chords) + Manifold.cylinder(14, 85, 85, chords)
    return outer - Manifold.cylinder(120, 55, 50, chords).translate([0, 0, -8])


def ring(rng):
    big, small = rng.uniform(40, 70), rng.uniform(8, 20)
    circle = CrossSection.circle(small, int(rng.integers(10, 40))).translate([big, 0])
    return Manifold.revolve(circle, int(rng.integers(16, 60)))


def bar(rng):
    x, y, z = rng.uniform(20, 90, 3)
    block = Manifold.cube([x, y, z], True)
    return block - Manifold.cylinder(2 * z, 8, 8, 24, True)


def pebble(rng):
    points = rng.normal(size=(int(rng.integers(8, 60)), 3)) * rng.uniform(20, 50)
    return Manifold.hull_points(points)


def prism(rng):
    x, y, z = rng.uniform(20, 120, 3)
    return Manifold.cube([x, y, z], True)


def drum(rng):
    return Manifold.cylinder(rng.uniform(20, 120), rng.uniform(10, 60), rng.uniform(10, 60),
                             int(rng.integers(5, 40)), True)


ANY = [valve, bell, ring, bar, pebble, prism, drum]
CONVEX = [pebble, prism, drum]


def obj(body, path):
    mesh = body.to_mesh64()
    with open(path, "w", encoding="ascii") as file:
        for x, y, z in mesh.vert_properties[:, :3].tolist():
            file.write(f"v {x!r} {y!r} {z!r}\n")
        for a, b, c in (mesh.tri_verts.astype(np.int64) + 1).tolist():
            file.write(f"f {a} {b} {c}\n")


def make(folder):
    """Yields names, bodies and pose; the same each time."""
    rng = np.random.default_rng(SEED)
    for k in range(PAIRS + CONVEX_PAIRS):
        kinds = ANY if k < PAIRS else CONVEX
        bodies = [kinds[rng.integers(len(kinds))](rng) for _ in "ab"]
        q = random_turn(rng)
        reach = 0.5 * sum(max(np.abs(body.bounding_box())) for body in bodies)
        shift = rng.normal(size=3)
        shift *= rng.uniform(0, 0.9) * reach / np.linalg.norm(shift)
        if k % 10 == 9:
            # Seated flat, a little pressed in, turned about the upright axis only.
            angle = rng.uniform(0, 2 * np.pi)
            q = np.array([np.cos(angle / 2), 0, 0, np.sin(angle / 2)])
            top, bottom = bodies[0].bounding_box()[5], bodies[1].bounding_box()[2]
            shift = np.array([*rng.uniform(-30, 30, 2), top - bottom - rng.uniform(0.001, 5)])
        yield f"a{k}", f"b{k}", *bodies, q, shift


def write(folder):
    lines = []
    for a, b, body_a, body_b, q, shift in make(folder):
        obj(body_a, folder / f"{a}.obj")
        obj(body_b, folder / f"{b}.obj")
        numbers = " ".join(repr(float(x)) for x in [*q, *shift])
        lines.append(f"{a} {b} {numbers}\n")
    (folder / "pairs").write_text("".join(lines))


def crossing(shared, ids):
    """Length of the edges between triangles of one body and of the other."""
    mesh = shared.to_mesh64()
    corners, triangles = mesh.vert_properties[:, :3], mesh.tri_verts.astype(np.int64)
    # Corners that only their properties keep apart are one.
    merged = np.arange(len(corners))
    merged[np.asarray(mesh.merge_from_vert, dtype=np.int64)] = \
        np.asarray(mesh.merge_to_vert, dtype=np.int64)
    triangles = merged[triangles]
    of = np.empty(len(triangles), dtype=int)
    starts = np.asarray(mesh.run_index, dtype=np.int64) // 3
    for run, original in enumerate(mesh.run_original_id):
        of[starts[run]:starts[run + 1]] = ids.index(int(original))
    sides = {}
    for triangle, body in zip(triangles, of):
        for i in range(3):
            edge = tuple(sorted((triangle[i], triangle[(i + 1) % 3])))
            sides.setdefault(edge, []).append(body)
    return sum(float(np.linalg.norm(corners[x] - corners[y]))
               for (x, y), bodies in sides.items() if 0 in bodies and 1 in bodies)


def hull_depth(a, b):
    differences = (a[:, None, :] - b[None, :, :]).reshape(-1, 3)
    # The origin is inside when every face has it behind.
    return float(-ConvexHull(differences).equations[:, 3].max())


def check(folder):
    answers = [[float(x) for x in line.split()]
               for line in (folder / "answers").read_text().splitlines()]
    pairs = list(make(folder))
    assert len(answers) == len(pairs) >= 200
    faults, worst = [], {"volume": 0.0, "length": 0.0, "way out": 0.0}
    counts = {"meeting": 0, "apart": 0, "with a volume": 0, "convex, deep": 0, "crossing": 0}
    low_parts, high_parts, widths, times = [], [], [], []
    for (name, _, a, b, q, shift), answer in zip(pairs, answers):
        volume, least, most, low, high, *way, lines, length, taken = answer
        turn = matrix(q)
        there = b.transform(np.column_stack([turn, shift]))
        a, there = a.as_original(), there.as_original()
        shared = Manifold.batch_boolean([a, there], OpType.Intersect)
        smaller = min(a.volume(), there.volume())
        truth = shared.volume()
        size = max(np.abs(a.bounding_box()))
        times.append(taken)

        def wrong(what):
            faults.append(f"{name}: {what}")

        if not least - VOLUME * smaller <= truth <= most + VOLUME * smaller:
            wrong(f"volume {truth} is not within {least} and {most}")
        if truth > 1e-6 * smaller:
            counts["meeting"] += 1
            if np.isnan(low):
                wrong(f"told not to overlap, but {truth} mm^3 are shared")
            widths.append((most - least) / truth)
        elif np.isnan(low):
            counts["apart"] += 1
            if volume != 0.0 or least > 0.0:
                wrong(f"told not to overlap, but to share {volume}, at least {least}")
        if not np.isnan(volume):
            counts["with a volume"] += 1
            off = abs(volume - truth) / smaller
            worst["volume"] = max(worst["volume"], off)
            if off > VOLUME:
                wrong(f"volume {volume}, by manifold3d {truth}")
        if truth > 1e-6 * smaller:
            expected = crossing(shared, [a.original_id(), there.original_id()])
            off = abs(length - expected) / (expected + size)
            counts["crossing"] += lines > 0
            worst["length"] = max(worst["length"], off)
            if off > LENGTH:
                wrong(f"{lines} lines of {length} mm, by manifold3d {expected} mm")
        if not np.isnan(high):
            # Moved by the way out they are free, in manifold3d's eyes too.
            freed = there.translate((np.array(way) * high).tolist())
            left = Manifold.batch_boolean([a, freed], OpType.Intersect).volume() / smaller
            worst["way out"] = max(worst["way out"], left)
            if left > VOLUME:
                wrong(f"not free after {high} along {way}: {left} of the smaller one shared")
        if int(name[1:]) >= PAIRS:
            depth = hull_depth(a.to_mesh64().vert_properties[:, :3],
                               there.to_mesh64().vert_properties[:, :3])
            if depth > DEPTH:
                if np.isnan(low):
                    wrong(f"told not to overlap, but {depth} mm deep")
                    continue
                counts["convex, deep"] += 1
                low_parts.append(low / depth)
                high_parts.append(high / depth)
                if not low - DEPTH <= depth <= high + DEPTH:
                    wrong(f"depth {depth} is not within {low} and {high}")
            elif depth < -DEPTH and not np.isnan(low):
                wrong(f"told to overlap by {low}, but {-depth} mm apart")
    for fault in faults[:20]:
        print(fault)
    answered = counts["with a volume"] / len(pairs)
    print(f"{len(pairs)} pairs: {counts}; worst off, relative: {worst}")
    print(f"bounds of the volume: width {np.median(widths):.3f} median, {max(widths):.3f} most; "
          f"time of a volume: {np.median(times) / 1e3:.1f} ms median, {max(times) / 1e3:.0f} most")
    print(f"depth of convex bodies: lower bound {np.median(low_parts):.3f} of the true one median, "
          f"{min(low_parts):.3f} least; upper {np.median(high_parts):.3f} median, "
          f"{max(high_parts):.3f} most")
    enough = counts["meeting"] >= 200 and counts["convex, deep"] >= 100 and counts["apart"] >= 10
    if not enough or answered < LEAST_ANSWERED:
        faults.append("too few answers")
        print(faults[-1])
    print(f"{len(faults)} faults")
    return not faults


if __name__ == "__main__":
    command, folder = sys.argv[1], pathlib.Path(sys.argv[2])
    if command == "make":
        write(folder)
    else:
        sys.exit(0 if check(folder) else 1)
