"""Holds the areas of cut faces against manifold3d's slices: measure.py FOLDER."""

import sys
from pathlib import Path

import manifold3d
import numpy

# manifold3d works in double precision, but welds what is nearer than its tolerance.
RELATIVE, LEAST = 1e-6, 1e-3


def body(path):
    """The solid of an OBJ file."""
    lines = [line.split() for line in path.read_text().splitlines()]
    points = numpy.array([[float(x) for x in w[1:]] for w in lines if w[0] == "v"])
    faces = numpy.array([[int(x) - 1 for x in w[1:]] for w in lines if w[0] == "f"])
    mesh = manifold3d.Mesh64(points, faces.astype(numpy.uint64))
    solid = manifold3d.Manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        raise SystemExit(f"{path.name}: {solid.status()}")
    return solid


def level(point, normal):
    """The 3 x 4 transform that lays a plane on z = 0, its normal up."""
    up = numpy.array(normal)
    axis = numpy.eye(3)[numpy.argmin(abs(up))]
    x = numpy.cross(axis, up)
    x /= numpy.linalg.norm(x)
    turn = numpy.array([x, numpy.cross(up, x), up])
    return numpy.column_stack([turn, -turn @ numpy.array(point)])


def main(folder):
    folder = Path(folder)
    bodies, worst, compared, open_bodies = {}, 0.0, 0, 0
    lines = (folder / "cuts").read_text().splitlines()
    for line in lines:
        name, *numbers = line.split()
        point, normal, area = numbers[:3], numbers[3:6], float(numbers[6])
        if numpy.isnan(area):
            open_bodies += 1
            continue
        if name not in bodies:
            bodies[name] = body(folder / f"{name}.obj")
        to_level = level([float(x) for x in point], [float(x) for x in normal])
        # Faces in the plane belong to the cut where the body is below it.
        expected = bodies[name].transform(to_level).translate([0, 0, 1e-9]).slice(0).area()
        off = abs(area - expected)
        worst = max(worst, off / max(expected, 1.0))
        compared += 1
        if off > max(RELATIVE * expected, LEAST):
            raise SystemExit(f"item {name}, {line}: {area} mm2, manifold3d {expected} mm2")
    if compared < 100 or len(bodies) < 40:
        raise SystemExit(f"only {compared} faces of {len(bodies)} items were compared")
    print(f"{compared} cut faces of {len(bodies)} items agree with manifold3d, {worst:.1e} apart at most; ", end="")
    print(f"{open_bodies} cuts of bodies that are not closed have no face")


main(sys.argv[1])
