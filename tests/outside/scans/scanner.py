"""A scanner made of an outside ray-caster: what it sees of a car top from some places, with noise.

Rays are cast by Embree (embreex, through trimesh); nothing of Overcup takes part. The car top's meshes are an
example's; the shell of the tank around it is invented: a level sheet with a hole under the housing.
"""

import pathlib
import tomllib

import numpy
import trimesh

#: How far the tank's shell lies below the sealing face, mm, and its half width (invented).
SHELL = 45.0
SHELL_HALF = 900.0
#: Three places to stand, plate frame, mm (invented: on the running boards, a pole held up).
EYES = numpy.array([[780.0, -150.0, 1150.0], [-520.0, 760.0, 1100.0], [-430.0, -800.0, 1000.0]])


def inches(text):
    """A length of a document, mm."""
    number, unit = text.split()[:-1], text.split()[-1]
    value = sum(
        (float(n.split("/")[0]) / float(n.split("/")[1])) if "/" in n else float(n) for n in number
    )
    return value * {"mm": 1.0, "in": 25.4}[unit]


class CarTop:
    """An example with its meshes in the plate frame."""

    def __init__(self, case):
        case = pathlib.Path(case)
        self.document = tomllib.loads(case.read_text())
        self.meshes = {
            m["name"]: trimesh.load(case.parent / m["file"]) for m in self.document["mesh"]
        }

    def scene(self):
        """Everything that a ray may meet, as one mesh."""
        half = SHELL_HALF
        ring = trimesh.creation.annulus(r_min=300.0, r_max=1.6 * half, height=1.0, sections=96)
        ring.apply_translation([0.0, 0.0, -SHELL - 0.5])
        return trimesh.util.concatenate([*self.meshes.values(), ring])

    def fittings(self):
        """Name, centre (mm) and flange (mm) of each fitting."""
        return [
            (f["name"], numpy.array([inches(v) for v in f["centre"]]), inches(f["flange"]))
            for f in self.document["fitting"]
        ]

    def ports(self):
        """Name, middle, width, height and sill of each port, mm."""
        return [
            (
                p["name"],
                numpy.array([inches(v) for v in p["at"]]),
                *(inches(p[k]) for k in ("width", "height", "sill")),
            )
            for p in self.document["port"]
        ]


def seen(scene, eye, count, reach=520.0):
    """What is seen from `eye` of a ball of `reach` mm around the car top's middle: about `count` points,
    exact, on an even raster of directions."""
    toward = numpy.array([0.0, 0.0, 120.0]) - eye
    far = numpy.linalg.norm(toward)
    z = toward / far
    x = numpy.cross(z, [0.0, 0.0, 1.0])
    x /= numpy.linalg.norm(x)
    y = numpy.cross(z, x)
    half = numpy.tan(numpy.arcsin(min(0.95, reach / far)))
    side = int(numpy.ceil(numpy.sqrt(count * 4.0 / numpy.pi)))
    steps = numpy.linspace(-half, half, side)
    u, v = (a.ravel() for a in numpy.meshgrid(steps, steps))
    round_about = u * u + v * v <= half * half
    u, v = u[round_about], v[round_about]
    ways = z + u[:, None] * x + v[:, None] * y
    ways /= numpy.linalg.norm(ways, axis=1)[:, None]
    engine = scene.ray
    points = []
    for begin in range(0, len(ways), 200_000):
        part = ways[begin : begin + 200_000]
        eyes = numpy.broadcast_to(eye, part.shape)
        triangle = engine.intersects_first(eyes, part)
        hit = triangle >= 0
        corners = scene.triangles[triangle[hit]]
        # Where the ray meets the triangle's plane, in full precision.
        normal = numpy.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        way = part[hit]
        along = numpy.einsum("ij,ij->i", corners[:, 0] - eye, normal) / numpy.einsum(
            "ij,ij->i", way, normal
        )
        points.append(eye + along[:, None] * way)
    points = numpy.concatenate(points)
    return points[numpy.isfinite(points).all(axis=1)]


def noisy(points, sigma, rng):
    """With Gaussian noise in every direction, mm."""
    return points + rng.normal(0.0, sigma, points.shape)


def any_pose(rng):
    """A turn and a shift: the coordinates in which a scanner's program happens to write."""
    turn = trimesh.transformations.random_rotation_matrix(rng.random(3))
    turn[:3, 3] = rng.uniform(-2000.0, 2000.0, 3)
    return turn


def moved(pose, points):
    return points @ pose[:3, :3].T + pose[:3, 3]


def write_ply(path, points):
    """Binary PLY, little endian, doubles."""
    head = (
        "ply\nformat binary_little_endian 1.0\n"
        f"element vertex {len(points)}\n"
        "property double x\nproperty double y\nproperty double z\nend_header\n"
    )
    with open(path, "wb") as file:
        file.write(head.encode())
        file.write(numpy.ascontiguousarray(points, dtype="<f8").tobytes())


def write_scans(folder, shots, sigma, seed):
    """The files of one scan with a seed's noise and pose, and the document that names them."""
    rng = numpy.random.default_rng(seed)
    pose = any_pose(rng)
    lines = ["format = 1", 'title = "A scan from three places (invented)"', 'units = "in"']
    for number, (eye, points) in enumerate(shots, 1):
        name = f"place-{number}.ply"
        write_ply(folder / name, moved(pose, noisy(points, sigma, rng)))
        at = ", ".join(f'"{c:.4f} mm"' for c in moved(pose, eye[None])[0])
        lines += ["", "[[scan]]", f'file = "{name}"', 'unit = "mm"', f"seen-from = [{at}]"]
    document = folder / "scan.toml"
    document.write_text("\n".join(lines) + "\n")
    return document, pose
