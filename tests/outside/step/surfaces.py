"""Measures with OCCT how far our meshes lie from the surfaces that they stand for.

    surfaces.py MESH [NAME...]

MESH is the built example of crates/step; names are those of surfaces, all of them unless told otherwise.
For every kind of surface, and for bodies that were cut and
rounded, OCCT makes a shape, writes it as STEP, and our reader meshes it. Then both ways:

- from dense samples of our triangles to OCCT's exact trimmed shape (BRepExtrema),
- from points of the exact surfaces, the nodes of a much finer triangulation of OCCT's, to our triangles.

No distance may exceed the deviation that our reader states, and that must keep to what was asked, but for
offset surfaces: their bound is of the first order, and the most triangles that are made of a face may not
reach what was asked. Ends with 1 where a distance does exceed, or where a solid is not sound.
"""

import json
import math
import os
import subprocess
import sys
import tempfile

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeSphere,
    BRepPrimAPI_MakeTorus,
)
from OCP.Geom import (
    Geom_BezierSurface,
    Geom_ConicalSurface,
    Geom_CylindricalSurface,
    Geom_Ellipse,
    Geom_Hyperbola,
    Geom_OffsetSurface,
    Geom_Parabola,
    Geom_SphericalSurface,
    Geom_SurfaceOfLinearExtrusion,
    Geom_SurfaceOfRevolution,
    Geom_ToroidalSurface,
    Geom_TrimmedCurve,
)
from OCP.GeomAPI import GeomAPI_PointsToBSpline, GeomAPI_PointsToBSplineSurface
from OCP.GeomConvert import GeomConvert
from OCP.gp import gp_Ax1, gp_Ax2, gp_Ax3, gp_Dir, gp_Pnt
from OCP.Message import Message
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array2OfPnt
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_SHELL
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

CHORDS = [0.05]  # mm
MOST = 250  # samples each way
ROUNDING = 2e-6  # mm: OCCT's own projections end there


def static(of, name):
    """A static method, whatever this version of the binding calls it."""
    return getattr(of, name + "_s", None) or getattr(of, name)


def face(surface, u0, u1, v0, v1):
    return BRepBuilderAPI_MakeFace(surface, u0, u1, v0, v1, 1e-6).Face()


def axes(z=(0, 0, 1), at=(0, 0, 0)):
    return gp_Ax2(gp_Pnt(*map(float, at)), gp_Dir(*map(float, z)))


def spline_curve():
    points = TColgp_Array1OfPnt(1, 7)
    for i in range(7):
        points.SetValue(i + 1, gp_Pnt(8 + 3 * math.sin(i), 0.0, 4.0 * i))
    return GeomAPI_PointsToBSpline(points).Curve()


def spline_surface():
    points = TColgp_Array2OfPnt(1, 7, 1, 6)
    for i in range(7):
        for j in range(6):
            z = 4 * math.sin(0.9 * i) * math.cos(0.7 * j)
            points.SetValue(i + 1, j + 1, gp_Pnt(5.0 * i, 6.0 * j, z))
    return GeomAPI_PointsToBSplineSurface(points).Surface()


def bezier_surface():
    poles = TColgp_Array2OfPnt(1, 4, 1, 3)
    for i in range(4):
        for j in range(3):
            poles.SetValue(i + 1, j + 1, gp_Pnt(6.0 * i, 8.0 * j, 5.0 * ((i * j) % 3)))
    return Geom_BezierSurface(poles)


def rounded():
    """A block with a boss, a bore through both and every edge rounded."""
    block = BRepPrimAPI_MakeBox(40.0, 30.0, 15.0).Shape()
    boss = BRepPrimAPI_MakeCylinder(axes(at=(20, 15, 10)), 9.0, 15.0).Shape()
    shape = BRepAlgoAPI_Fuse(block, boss).Shape()
    round_off = BRepFilletAPI_MakeFillet(shape)
    edges = TopExp_Explorer(shape, TopAbs_EDGE)
    while edges.More():
        round_off.Add(2.0, static(TopoDS, "Edge")(edges.Current()))
        edges.Next()
    shape = round_off.Shape()
    bore = BRepPrimAPI_MakeCylinder(axes(at=(20, 15, -1)), 5.0, 40.0).Shape()
    return BRepAlgoAPI_Cut(shape, bore).Shape()


def crossed():
    """A sphere bored across, off its middle, and a cone cut by a slanted cylinder."""
    sphere = BRepPrimAPI_MakeSphere(12.0).Shape()
    bore = BRepPrimAPI_MakeCylinder(axes((1, 0.3, 0.2), (-20, 0, 3)), 4.0, 50.0).Shape()
    return BRepAlgoAPI_Cut(sphere, bore).Shape()


def crossed_cone():
    cone = BRepPrimAPI_MakeCone(10.0, 4.0, 25.0).Shape()
    bore = BRepPrimAPI_MakeCylinder(axes((1, 0.4, 0.3), (-20, -6, 6)), 3.0, 60.0).Shape()
    return BRepAlgoAPI_Cut(cone, bore).Shape()


def shapes():
    """Names, shapes, and whether each is a solid."""
    ax3 = gp_Ax3(axes())
    axis = gp_Ax1(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 0.0, 1.0))
    up = gp_Dir(0.2, 0.1, 1.0)
    ellipse = Geom_Ellipse(axes(), 9.0, 4.0)
    parabola = Geom_TrimmedCurve(Geom_Parabola(axes((0, 1, 0)), 2.0), -3.0, 4.0)
    hyperbola = Geom_TrimmedCurve(Geom_Hyperbola(axes((0, 1, 0)), 4.0, 3.0), -1.2, 1.5)
    rational = static(GeomConvert, "SurfaceToBSplineSurface")
    from OCP.Geom import Geom_RectangularTrimmedSurface as Trimmed

    patch = lambda s, *r: rational(Trimmed(s, *r))
    sphere, torus = Geom_SphericalSurface(ax3, 12.0), Geom_ToroidalSurface(ax3, 12.0, 4.0)
    yield "plane", BRepPrimAPI_MakeBox(10.0, 20.0, 30.0).Shape(), True
    yield "cylinder", BRepPrimAPI_MakeCylinder(8.0, 30.0).Shape(), True
    yield "cylinder, part", face(Geom_CylindricalSurface(ax3, 8.0), 0.3, 4.0, 1.0, 9.0), False
    yield "cone", BRepPrimAPI_MakeCone(10.0, 4.0, 20.0).Shape(), True
    yield "cone, apex", BRepPrimAPI_MakeCone(10.0, 0.0, 20.0).Shape(), True
    yield "cone, part", face(Geom_ConicalSurface(ax3, 0.4, 5.0), 1.0, 3.0, -2.0, 9.0), False
    yield "sphere", BRepPrimAPI_MakeSphere(12.0).Shape(), True
    yield "sphere, part", face(sphere, 0.5, 3.0, -0.4, 1.2), False
    yield "torus", BRepPrimAPI_MakeTorus(12.0, 4.0).Shape(), True
    yield "torus, part", face(torus, 0.5, 3.0, 1.0, 5.0), False
    surface = spline_surface()
    yield "B-spline", face(surface, *surface.Bounds()), False
    yield "Bezier", face(bezier_surface(), 0.0, 1.0, 0.0, 1.0), False
    for name, s in [
        ("rational, sphere", patch(sphere, 0.2, 2.5, -0.6, 1.3)),
        ("rational, torus", patch(torus, 0.2, 2.5, 0.5, 4.0)),
        ("rational, closed", rational(Geom_ToroidalSurface(ax3, 12.0, 4.0))),
        ("rational, with poles", rational(Geom_SphericalSurface(ax3, 12.0))),
    ]:
        yield name, face(s, *s.Bounds()), False
    curve = spline_curve()
    domain = (curve.FirstParameter(), curve.LastParameter())
    yield "revolution", face(Geom_SurfaceOfRevolution(curve, axis), 0.3, 5.0, *domain), False
    yield "revolution, whole", face(Geom_SurfaceOfRevolution(curve, axis), 0.0, math.tau, *domain), False
    turned = Geom_SurfaceOfRevolution(parabola, axis)
    yield "revolution, parabola", face(turned, 0.0, 2.0, 0.5, 3.5), False
    turned = Geom_SurfaceOfRevolution(hyperbola, axis)
    yield "revolution, hyperbola", face(turned, 0.0, 2.0, 0.3, 1.4), False
    yield "extrusion", face(Geom_SurfaceOfLinearExtrusion(curve, gp_Dir(0.1, 1.0, 0.2)), *domain, 0.0, 9.0), False
    moved = Geom_SurfaceOfLinearExtrusion(ellipse, up)
    yield "extrusion, ellipse", face(moved, 0.0, math.tau, 0.0, 9.0), False
    for distance in (1.5, -1.5):
        beside = Geom_OffsetSurface(spline_surface(), distance)
        yield "offset %+.1f" % distance, face(beside, *beside.Bounds()), False
    beside = Geom_OffsetSurface(Geom_ConicalSurface(ax3, 0.4, 5.0), 1.0)
    yield "offset of a cone", face(beside, 1.0, 3.0, 0.0, 9.0), False
    yield "rounded block", rounded(), True
    yield "bored sphere", crossed(), True
    yield "bored cone", crossed_cone(), True


def boundary(shape):
    """The shell of a solid: within the solid itself every distance is nought."""
    shells = TopExp_Explorer(shape, TopAbs_SHELL)
    return shells.Current() if shells.More() else shape


def exact_points(shape):
    """Nodes of a fine triangulation of OCCT's: they lie on its surfaces."""
    BRepMesh_IncrementalMesh(shape, 0.02, False, 0.1, False)
    found = []
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        place = TopLoc_Location()
        mesh = static(BRep_Tool, "Triangulation")(static(TopoDS, "Face")(faces.Current()), place)
        for i in range(1, mesh.NbNodes() + 1 if mesh else 1):
            p = mesh.Node(i).Transformed(place.Transformation())
            found.append((p.X(), p.Y(), p.Z()))
        faces.Next()
    return np.array(found)


def to_triangles(points, corners):
    """Distances of points from the nearest of triangles (corners: n x 3 x 3)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac = b - a, c - a
    normal = np.cross(ab, ac)
    length = np.linalg.norm(normal, axis=1)
    flat = length > 1e-14
    unit = np.where(flat[:, None], normal / np.maximum(length, 1e-300)[:, None], 0.0)
    best = np.empty(len(points))

    def segment(p, a, d):
        share = np.clip(((p - a) * d).sum(-1) / np.maximum((d * d).sum(-1), 1e-300), 0.0, 1.0)
        return np.linalg.norm(p - a - share[..., None] * d, axis=-1)

    for i, p in enumerate(points):
        ap = p - a
        inside = flat.copy()
        for start, along in ((a, ab), (b, c - b), (c, a - c)):
            inside &= (np.cross(along, p - start) * unit).sum(1) >= 0.0
        edges = np.minimum(segment(p, a, ab), np.minimum(segment(p, b, c - b), segment(p, c, a - c)))
        best[i] = np.where(inside, np.abs((ap * unit).sum(1)), edges).min()
    return best


def main():
    rng = np.random.default_rng(7)
    failed = 0
    # OCCT tells of every transfer otherwise.
    for printer in list(static(Message, "DefaultMessenger")().Printers()):
        static(Message, "DefaultMessenger")().RemovePrinter(printer)
    print("%-24s %6s %10s %10s %10s %10s" % ("surface", "asked", "stated", "to exact", "from exact", "triangles"))
    with tempfile.TemporaryDirectory() as folder:
        for name, shape, solid in shapes():
            if sys.argv[2:] and name not in sys.argv[2:]:
                continue
            path = os.path.join(folder, "shape.step")
            writer = STEPControl_Writer()
            writer.Transfer(shape, STEPControl_AsIs)
            writer.Write(path)
            nodes = exact_points(shape)
            for chord in CHORDS:
                done = subprocess.run([sys.argv[1], path, str(chord)], capture_output=True, text=True)
                if done.returncode:
                    print(name, "FAILED:", done.stderr.strip()[:200])
                    failed += 1
                    continue
                told = json.loads(done.stdout)
                bodies = told["bodies"]
                lost = [why for b in bodies for why in b["lost"]] + told["findings"]
                if len(bodies) != 1 or lost or (solid and not bodies[0]["sound"]):
                    print(name, "FAILED:", len(bodies), "bodies,", lost, "open", [b["open_edges"] for b in bodies])
                    failed += 1
                    continue
                body = bodies[0]
                corners = np.array(body["vertices"])[np.array(body["triangles"])]
                picks = corners[rng.integers(len(corners), size=MOST)]
                weights = rng.dirichlet((0.7, 0.7, 0.7), size=MOST)
                samples = (picks * weights[:, :, None]).sum(1)
                # The middles of the longest edges err the most.
                longest = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2)
                rows = np.argsort(longest.max(1))[-100:]
                ends = [(corners[r][longest[r].argmax()], np.roll(corners[r], -1, axis=0)[longest[r].argmax()]) for r in rows]
                samples = np.vstack([samples, [(p + q) / 2 for p, q in ends]])
                to_exact = 0.0
                skin = boundary(shape)
                for p in samples:
                    vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, p))).Vertex()
                    to_exact = max(to_exact, BRepExtrema_DistShapeShape(vertex, skin).Value())
                chosen = nodes[rng.permutation(len(nodes))[:MOST]]
                from_exact = to_triangles(chosen, corners).max()
                stated = body["deviation"]
                kept = stated <= chord + ROUNDING or name.startswith("offset")
                good = kept and max(to_exact, from_exact) <= stated + ROUNDING
                failed += not good
                print(
                    "%-24s %6.3f %10.6f %10.6f %10.6f %10d%s"
                    % (name, chord, stated, to_exact, from_exact, len(corners), "" if good else "  EXCEEDED")
                )
    print("%d failed" % failed)
    sys.exit(bool(failed))


main()
