"""Made-up car tops, cups and poses on which the proximity engines are measured. Millimetres.

    make.py FOLDER              the meshes and poses of the comparison
    make.py FOLDER --quick      the same without the car top of two million triangles
    make.py FOLDER --growth     one car top, cut ever finer from about 1,000 to 5 million triangles

A car top is a cover plate with six fittings and twenty studs with their nuts, and a housing with
access holes around it, two closed shells in one mesh. A cup is a flanged bell with an outlet pipe on top. The
dimensions are only plausible. In the frame of the car top the plate's upper face is z = 0; in the
frame of the cup its rim is z = 0. A pose takes coordinates of the cup into the car top's frame.

    car-10k     as a CAD program tessellates: long slivers
    car-200k    cut to even triangles
    car-2M      as a scanner gives it: even triangles, each corner 0.1 mm (one sigma) off along
                the normal
    random      unrelated placements near one of the fittings; about half of them are free
    path        one steady motion: in from the side, down over a fitting, a turn while seated flat
                0.8 mm above the plate, up, over to the next fitting and down into its outlet

Everything comes twice: `aligned`, with the plates' faces along the axes, and `turned`, with the
corners of both bodies turned by fixed arbitrary rotations R1 and R2 and the poses made
R1 pose R2^-1, so that every answer stays and no face lies along an axis.

Little endian files: NAME-TURN.mesh holds u32 corners, u32 triangles, f64 x y z of each corner, u32
corners of each triangle; SET-TURN.poses holds u32 poses, then f64 qw qx qy qz tx ty tz of each.
The same packages give the same bytes.
"""
import argparse
import math
import pathlib
import struct

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

POSES = 1000
FITTINGS = 6
STUDS = 20
FITTING_CIRCLE = 140.0  # Radius on which the fittings stand.
SCAN_NOISE = 0.1
# Rotation vectors, radians, of the turned car top and cup: neither is near an axis or a diagonal.
TURNS = {"aligned": ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
         "turned": ((0.7, -0.4, 0.5), (-0.3, 0.9, 0.6))}
# Triangles of the car tops in the growth table; the coarsest has 1,370 before any cut.
GROWTH = {"1k": 1_000, "5k": 5_000, "20k": 20_000, "100k": 100_000, "500k": 500_000,
          "2M": 2_000_000, "5M": 5_000_000}


# Bodies.

def cylinder(radius, height, chords, top_radius=-1.0):
    """A cylinder or cone from z = 0 upward."""
    return Manifold.cylinder(height, radius, top_radius, chords)


def hexagon(across_corners, height):
    """A nut or a bolt's head."""
    return cylinder(across_corners / 2, height, 6)


def around(angle, radius, height=0.0):
    """The point at an angle on a circle about z."""
    return np.array([radius * math.cos(angle), radius * math.sin(angle), height])


def fitting_at(number):
    """Where a fitting stands on the plate."""
    return around(math.tau * number / FITTINGS + 0.2, FITTING_CIRCLE)


def fitting(number, chords, bolted):
    """A flanged body, its height growing with the number; every other one with a side outlet and
    a handwheel."""
    height = 100.0 + 20.0 * number
    waist = 0.55 * height
    body = (cylinder(45.0, 18.0, chords)
            + cylinder(26.0, height, chords)
            + Manifold.sphere(36.0, chords).translate((0, 0, waist))
            + hexagon(40.0, 18.0).translate((0, 0, height)))
    if number % 2 == 0:
        thin = max(8, chords // 4)
        rim = CrossSection.circle(4.0, thin).translate((30.0, 0)).revolve(chords)
        body += cylinder(14.0, 75.0, chords).rotate((0, 90, 0)).translate((0, 0, waist))
        body += rim.translate((0, 0, height + 30.0))
        body += cylinder(4.0, height + 35.0, max(8, chords // 2))
        body += Manifold.cube((60.0, 5.0, 4.0), True).translate((0, 0, height + 30.0))
    for bolt in range(4 if bolted else 0):
        body += hexagon(16.0, 7.0).translate(around(math.tau * bolt / 4 + 0.3, 36.0, 16.0))
    return body


def car_top(chords, bolted=True):
    """Plate, housing, fittings and, if bolted, bolts and studs: closed shells."""
    plate = cylinder(300.0, 30.0, 2 * chords)
    plate -= cylinder(30.0, 200.0, chords).translate((0, 0, -50.0))
    housing = cylinder(350.0, 400.0, 2 * chords)
    housing -= cylinder(335.0, 500.0, 2 * chords).translate((0, 0, -10.0))
    hole = cylinder(50.0, 200.0, chords).rotate((0, 90, 0)).translate((250.0, 0, 220.0))
    for number in range(8):
        housing -= hole.rotate((0, 0, 45.0 * number))
    parts = [plate.translate((0, 0, -30.0)), housing.translate((0, 0, -30.0))]
    parts += [fitting(k, chords, bolted).translate(fitting_at(k)) for k in range(FITTINGS)]
    stud = cylinder(10.0, 65.0, max(12, chords // 2)) + hexagon(36.0, 18.0)
    parts += [stud.translate(around(math.tau * k / STUDS, 270.0, -2.0))
              for k in range(STUDS if bolted else 0)]
    return Manifold.batch_boolean(parts, OpType.Add)


def cup(chords):
    """A bell with a flange at its rim and a bent outlet pipe on top, as one closed body."""
    fine = max(12, chords // 2)
    bell = cylinder(62.0, 260.0, chords) - cylinder(55.0, 250.0, chords).translate((0, 0, -10.0))
    flange = cylinder(85.0, 14.0, chords) - cylinder(55.0, 30.0, chords).translate((0, 0, -10.0))
    ring = CrossSection.circle(17.0, fine) - CrossSection.circle(13.0, fine)
    elbow = ring.translate((50.0, 0)).revolve(chords, 90).rotate((90, 0, 0))
    pipe = cylinder(17.0, 50.0, fine) - cylinder(13.0, 60.0, fine).translate((0, 0, -5.0))
    bore = cylinder(13.0, 50.0, fine).translate((0, 0, 240.0))
    return (bell + flange + elbow.translate((-50.0, 0, 258.0))
            + pipe.rotate((0, -90, 0)).translate((-49.0, 0, 308.0))) - bore


def cut_to(body, triangles):
    """The body with its edges cut to the length that gives about so many triangles. The shape
    stays."""
    low, high = 0.05, 1000.0
    for _ in range(18):
        middle = math.sqrt(low * high)
        if body.refine_to_length(middle).num_tri() > triangles:
            low = middle
        else:
            high = middle
    return body.refine_to_length(high)


def arrays(body):
    """Corners (n x 3, f64) and triangles (m x 3, u32)."""
    mesh = body.to_mesh64()
    return (np.asarray(mesh.vert_properties, np.float64)[:, :3],
            np.asarray(mesh.tri_verts, np.uint32))


def scanned(corners, triangles, numbers):
    """Every corner moved along its normal by SCAN_NOISE, one sigma."""
    across = np.cross(corners[triangles[:, 1]] - corners[triangles[:, 0]],
                      corners[triangles[:, 2]] - corners[triangles[:, 0]])
    normals = np.zeros_like(corners)
    for corner in range(3):
        np.add.at(normals, triangles[:, corner], across)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    return corners + normals * numbers.normal(0.0, SCAN_NOISE, (len(corners), 1))


# Poses: a row is a unit quaternion, scalar first, and a translation.

def about(vector):
    """The quaternion of a rotation vector."""
    vector = np.asarray(vector, float)
    angle = np.linalg.norm(vector)
    axis = vector / angle if angle > 0 else vector
    return np.concatenate([[math.cos(angle / 2)], math.sin(angle / 2) * axis])


def product(p, q):
    """First q, then p."""
    return np.concatenate([[p[0] * q[0] - p[1:] @ q[1:]],
                           p[0] * q[1:] + q[0] * p[1:] + np.cross(p[1:], q[1:])])


def matrix(quaternion):
    """The rotation matrix of a unit quaternion."""
    w, x, y, z = quaternion
    return np.array([[1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
                     [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
                     [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)]])


def placement(at, tilt, turn):
    """Turned about the cup's own axis, then tilted by a rotation vector, then put at a point."""
    return np.concatenate([product(about(tilt), about((0, 0, turn))), at])


def random_poses(numbers):
    """Unrelated placements over the fittings, tilted by a few degrees."""
    poses = []
    for _ in range(POSES):
        at = fitting_at(numbers.integers(FITTINGS)) + np.array(
            [*numbers.normal(0.0, 12.0, 2), numbers.uniform(0.5, 220.0)])
        lean = numbers.uniform(0.0, math.tau)
        tilt = numbers.normal(0.0, math.radians(3.0)) * np.array([math.cos(lean), math.sin(lean), 0])
        poses.append(placement(at, tilt, numbers.uniform(0.0, math.tau)))
    return np.array(poses)


def path_poses():
    """Straight from one station to the next in even steps."""
    stations = [  # Which fitting, offset from it, tilt, turn about the axis.
        (1, (50.0, 100.0, 300.0), 0.3, 0.1),
        (1, (0.0, 0.0, 160.0), 0.0, 0.2),
        (1, (2.0, 1.0, 0.8), 0.005, 0.25),
        (1, (0.0, 0.0, 0.8), 0.0, 0.5),
        (1, (0.0, 0.0, 0.8), 0.0, 0.8),  # The turn while seated flat.
        (1, (0.0, 0.0, 200.0), 0.02, 1.0),
        (2, (0.0, 0.0, 220.0), 0.02, 1.4),
        (2, (1.0, 0.0, 1.0), 0.0, 1.4),
    ]
    rows = np.array([[*(fitting_at(k) + offset), tilt, turn] for k, offset, tilt, turn in stations])
    steps = np.linspace(0.0, len(stations) - 1, POSES)
    along = [np.interp(steps, range(len(stations)), column) for column in rows.T]
    lean = np.array([1.0, 0.3, 0.0]) / math.hypot(1.0, 0.3)
    return np.array([placement(row[:3], row[3] * lean, row[4]) for row in np.transpose(along)])


# Files.

def write_mesh(folder, name, which, corners, triangles):
    """Writes both turns; `which` is 0 for a car top and 1 for a cup."""
    for turn, rotations in TURNS.items():
        turned = corners
        if any(rotations[which]):
            turned = corners @ matrix(about(rotations[which])).T
        with open(folder / f"{name}-{turn}.mesh", "wb") as file:
            file.write(struct.pack("<II", len(turned), len(triangles)))
            file.write(np.ascontiguousarray(turned, "<f8").tobytes())
            file.write(np.ascontiguousarray(triangles, "<u4").tobytes())
    sides = np.linalg.norm(corners[triangles] - corners[np.roll(triangles, 1, 1)], axis=2)
    print(f"{name}: {len(triangles)} triangles, edges {np.median(sides):.2f} mm in the middle, "
          f"{sides.max():.1f} mm at most", flush=True)


def write_poses(folder, name, poses):
    """Writes both turns."""
    for turn, (first, second) in TURNS.items():
        turned = poses
        if any(first) or any(second):
            car, back = about(first), about(-np.asarray(second))
            turned = np.array([[*product(product(car, p[:4]), back), *(matrix(car) @ p[4:])]
                               for p in poses])
        with open(folder / f"{name}-{turn}.poses", "wb") as file:
            file.write(struct.pack("<I", len(turned)))
            file.write(np.ascontiguousarray(turned, "<f8").tobytes())
    print(f"{name}: {len(poses)} poses", flush=True)


def make_comparison(folder, with_largest):
    """The cars, cups and poses of the comparison."""
    write_poses(folder, "random", random_poses(np.random.default_rng(1)))
    write_poses(folder, "path", path_poses())
    write_mesh(folder, "cup-2k", 1, *arrays(cup(32)))
    write_mesh(folder, "cup-20k", 1, *arrays(cut_to(cup(64), 20_000)))
    write_mesh(folder, "car-10k", 0, *arrays(car_top(28)))
    write_mesh(folder, "car-200k", 0, *arrays(cut_to(car_top(64), 200_000)))
    if with_largest:
        corners, triangles = arrays(cut_to(car_top(96), 2_000_000))
        corners = scanned(corners, triangles, np.random.default_rng(2))
        write_mesh(folder, "car-2M", 0, corners, triangles)


def make_growth(folder):
    """One coarse car top, cut ever finer; the cup and the poses of the comparison."""
    write_poses(folder, "random", random_poses(np.random.default_rng(1)))
    write_mesh(folder, "cup-2k", 1, *arrays(cup(32)))
    coarse = car_top(4, bolted=False)
    for name, triangles in GROWTH.items():
        body = coarse if triangles <= coarse.num_tri() else cut_to(coarse, triangles)
        write_mesh(folder, f"grown-{name}", 0, *arrays(body))


def main():
    """Writes what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--quick", action="store_true", help="without the largest car top")
    parser.add_argument("--growth", action="store_true", help="one car top, cut ever finer")
    chosen = parser.parse_args()
    chosen.folder.mkdir(parents=True, exist_ok=True)
    if chosen.growth:
        make_growth(chosen.folder)
    else:
        make_comparison(chosen.folder, not chosen.quick)


if __name__ == "__main__":
    main()
