"""Makes the example cases: geometry by Open CASCADE (build123d), documents beside it.

Everything here is invented for the demo: the builder, the cars, the dimensions. Where a standard
or a regulation speaks, the dimension follows it and the line says which.

Plate frame, millimetres: z = 0 is the sealing face, +z out of the plate, +x toward the hinge,
bearings counter-clockwise from +x seen from above.

Run:  python examples/make/make.py        (writes into examples/)
"""

import math
import re
import struct
from datetime import datetime
from pathlib import Path

import manifold3d
import numpy as np
from build123d import (
    Axis, Box, Compound, Cylinder, Face, Line, Pos, Rectangle, RectangleRounded, RegularPolygon, Rot,
    Solid, ThreePointArc, Torus, Wire, export_step, extrude, revolve,
)
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location

HERE = Path(__file__).resolve().parent
OUT = HERE.parent
IN = 25.4

CHORD = 0.045         # asked of the mesher, so that the 0.05 mm stated in the documents holds
ANGLE = 0.5           # rad between neighbouring facets, for the smallest radii
STL_HEADER = b"Larkmoor demo car, units mm, plate frame".ljust(80, b" ")
STAMP = datetime(2026, 10, 2)

# --------------------------------------------------------------------------------------------
# Dimensions
# --------------------------------------------------------------------------------------------
HOUSING_R = 13.5 * IN             # inside radius
WALL = 0.75 * IN                  # 49 CFR 179.100-12(c): steel sidewalls >= 3/4 in
HOUSING_OUT = HOUSING_R + WALL
RIM = 13 * IN
FLANGE_T = 0.75 * IN
HOUSING_CIRCLE = 392.0            # twenty 3/4-10 studs, 49 CFR 179.100-12(c)
FLANGE_OUT = 413.0
MANWAY_CIRCLE = 441.0             # twenty 1-8 studs
PLATE_R = 18.5 * IN
PLATE_T = 2.25 * IN               # 49 CFR 179.101-1: steel 2 1/4 in
PORT_W, PORT_H, PORT_SILL = 100.0, 90.0, 45.0
PORT_BEARINGS = (0, 90, 180, 270)

PIN_D = 0.875 * IN
PIN_SPACE = 25.0                  # between pin and sidewall at y = 0
PIN_X = HOUSING_OUT + PIN_SPACE + PIN_D / 2
PIN_Z = 322.0
LID_T = 0.375 * IN                # 49 CFR 179.100-12(c): metal cover >= 1/4 in
LID_STOP = 115.0

# ASME B18.2.2 heavy hex nuts, maximum: width across flats F, height H, inches.
# 1/2 in: from memory.
NUT = {"1/2": (0.875, 0.504), "5/8": (1.062, 0.631), "3/4": (1.250, 0.758), "1": (1.625, 1.012)}
DIA = {"1/2": 0.5, "5/8": 0.625, "3/4": 0.75, "1": 1.0}
# ASME B16.5: outside diameter, thickness, bolt circle, bolts, nut size (mm).
FLANGE = {
    "2/300": (165.0, 20.7, 127.0, 8, "5/8"),
    "1/300": (125.0, 15.9, 88.9, 4, "5/8"),
    "1/150": (110.0, 12.7, 79.4, 4, "1/2"),
}


def shear_ratio():
    """Shear value of the housing's studs over the manway's, same material, root area."""
    root = lambda d, n: math.pi / 4 * (d - 1.3 / n) ** 2  # noqa: E731
    return (20 * root(0.75, 10)) / (20 * root(1.0, 8))


# --------------------------------------------------------------------------------------------
# Shapes
# --------------------------------------------------------------------------------------------
def turned(*points):
    """Solid of revolution about z. Each point is (r, z) or (mid r, mid z, r, z) for an arc."""
    at = lambda r, z: (r, 0.0, z)  # noqa: E731
    edges, here = [], points[0]
    closing = () if points[-1][-2:] == points[0] else (points[0],)
    for p in (*points[1:], *closing):
        if len(p) == 4:
            edges.append(ThreePointArc(at(*here), at(p[0], p[1]), at(p[2], p[3])))
            here = (p[2], p[3])
        else:
            edges.append(Line(at(*here), at(*p)))
            here = p
    return revolve(Face(Wire(edges)), Axis.Z, 360.0)


def rod(r, z0, z1, chamfer=0.0):
    """Round bar along z."""
    c = chamfer
    if c == 0.0:
        return turned((0, z0), (r, z0), (r, z1), (0, z1))
    return turned((0, z0), (r, z0), (r, z1 - c), (r - c, z1), (0, z1))


def hexagon(flats, z0, z1, crown=True):
    """Hexagonal prism along z, its upper corners turned off at 30 degrees."""
    prism = Pos(0, 0, z0) * extrude(RegularPolygon(flats / 2, 6, major_radius=False), z1 - z0)
    if not crown:
        return prism
    r, corner = flats / 2, flats / math.sqrt(3)
    drop = (corner + 1 - r) * math.tan(math.radians(30))
    return prism & turned(
        (0, z0 - 1), (corner + 1, z0 - 1), (corner + 1, z1 - drop), (r, z1), (0, z1)
    )


def stud(size, z0, root):
    """Heavy hex nut standing on z0 with its stud, which goes down to `root`."""
    flats, height = (v * IN for v in NUT[size])
    d = DIA[size] * IN
    return hexagon(flats, z0, z0 + height) + rod(d / 2, root, z0 + height + 0.25 * d, 1.2)


def around(n, radius, start, piece):
    """n copies of a piece on a circle, each turned to face outward."""
    return [
        Rot(0, 0, start + 360.0 * i / n) * Pos(radius, 0, 0) * piece for i in range(n)
    ]


def fused(first, pieces):
    """Union as one solid."""
    return first.fuse(*pieces).clean() if pieces else first


def flange(kind, start):
    """Bolted flange with its studs and nuts, standing on z = 0."""
    od, t, circle, n, size = FLANGE[kind]
    disc = turned((0, 0), (od / 2, 0), (od / 2, t - 1.5), (od / 2 - 1.5, t), (0, t))
    return fused(disc, around(n, circle / 2, start, stud(size, t, t - 4)))


def wheel(diameter, grip, z_rim, z_hub, z_top, hub, nut):
    """Handwheel: rim of round bar, five dished spokes, hub and nut."""
    ring = diameter / 2 - grip / 2
    z_mid = (z_hub[0] + z_hub[1]) / 2
    rise = math.degrees(math.atan2(z_rim - z_mid, ring))
    bar = Pos(0, 0, z_mid) * Rot(0, 90 - rise, 0) * rod(grip * 0.36, 0, math.hypot(ring, z_rim - z_mid))
    bars = [Rot(0, 0, 72 * i + 36) * bar for i in range(5)]
    n = 14                                        # the rim's section is a polygon, as cast
    rim = turned(*(
        (ring + grip / 2 * math.cos(a), z_rim + grip / 2 * math.sin(a))
        for a in (2 * math.pi * i / n for i in range(n))
    ))
    centre = turned(
        (0, z_hub[0]), (hub * 0.85, z_hub[0]), (hub, z_hub[0] + hub * 0.15),
        (hub, z_hub[1] - hub * 0.25), (hub * 0.75, z_hub[1]), (0, z_hub[1]),
    ) + hexagon(nut, z_hub[1] - 1, z_top)
    return fused(rim, [*bars, centre])


def along_x(shape, z):
    """Turns a shape built along +z so that it lies along +x at height z."""
    return Pos(0, 0, z) * Rot(0, 90, 0) * shape


def square_plug(thread, inside, face, tip, flats):
    """Square-head plug along +z, from inside the outlet past its face."""
    shank = rod(thread, inside, face + 4, 1.0)
    head = Pos(0, 0, face + 3) * extrude(Rectangle(flats, flats), tip - face - 3)
    corner = flats / math.sqrt(2)
    head = head & turned((0, 0), (corner - 2, 0), (corner - 2, tip - 4), (corner - 7, tip), (0, tip))
    return shank + head


def angle_valve():
    """2 in angle-pattern valve, outlet along +x: body, handwheel, outlet plug.

    With handwheel and plug off it lies within a radius of 82.5 mm and a height of 250 mm.
    """
    z_out, r_out, face = 68.0, 32.0, 75.0
    trunk = turned(
        (0, 10), (44, 10), (44, 26), (38, 36), (37, 44), (43, 56), (43, 80), (40, 96), (42, 104), (42, 108),
        (0, 108),
    )
    port = along_x(turned((0, 0), (28, 0), (28, 48), (r_out, 52), (r_out, 73), (r_out - 2, face), (0, face)), z_out)
    bonnet = turned(
        (0, 100), (56, 106), (58, 108), (58, 123), (57, 124), (57, 125), (58, 126), (58, 139),
        (56, 141), (41, 141), (36, 158, 25, 172), (25, 176), (0, 176),
    )
    nuts = around(6, 49.0, 30.0, hexagon(14.0, 140.0, 150.0, crown=False) + rod(4, 138, 153))
    gland = [hexagon(41.0, 174.0, 196.0), turned((0, 190), (16, 190), (16, 202), (14, 205), (0, 205))]
    stem = [rod(10.5, 200, 233, 0.8), Pos(0, 0, 237.5) * Box(14, 14, 15)]
    bore = along_x(turned((0, 44), (26.8, 44), (28.4, 74), (29.9, 75.5), (29.9, 77), (0, 77)), z_out)
    body = fused(flange("2/300", 22.5), [trunk, port, bonnet, *nuts, *gland, *stem]) - bore
    plug = along_x(square_plug(26.3, 48, face, face + 25, 33), z_out)
    return body, wheel(150, 18, 270, (246, 284), 298, 17, 27), plug


def relief_device():
    """Relief device, 2 in flange: spring housing, guide ribs, cap."""
    core = turned(
        (0, 10), (42, 10), (42, 30), (38, 36), (38, 52), (52, 58), (55, 60), (55, 168),
        (54, 172, 50, 174), (40, 178), (40, 184), (50, 186), (52, 188), (52, 204),
        (49, 216, 34, 224), (14, 229), (14, 233), (12, 235), (0, 235),
    )
    rings = [turned((54, z), (58, z + 1), (58, z + 7), (54, z + 8)) for z in (66, 108, 150)]
    ribs = around(8, 57.0, 0.0, Pos(0, 0, 115) * Box(10, 7, 90))
    nuts = around(8, 46.0, 22.5, hexagon(13.0, 170.0, 182.0, crown=False))
    vents = around(6, 52.0, 0.0, Pos(0, 0, 196) * Rot(0, 90, 0) * Cylinder(5, 26))
    return fused(flange("2/300", 22.5), [core, *rings, *ribs, *nuts]).cut(*vents)


def sampling_valve():
    """1 in sampling valve, outlet along +x: body, handwheel, plug."""
    z_out, face = 52.0, 56.0
    trunk = turned(
        (0, 8), (27, 8), (27, 22), (23, 28), (22, 34), (25, 42), (25, 62), (22, 70), (24, 74), (24, 84),
        (19, 90), (0, 90),
    )
    port = along_x(turned((0, 0), (17, 0), (17, 36), (20, 39), (20, 55), (19, face), (0, face)), z_out)
    gland = [hexagon(32.0, 84.0, 100.0), rod(6.5, 98, 112, 0.6), Pos(0, 0, 113) * Box(9, 9, 6)]
    bore = along_x(turned((0, 32), (13.2, 32), (14.2, 56.5), (0, 56.5)), z_out)
    body = fused(flange("1/300", 45.0), [trunk, port, *gland]) - bore
    plug = along_x(square_plug(12.8, 35, face, face + 18, 16), z_out)
    return body, wheel(90, 11, 127, (117, 133), 140, 11, 17), plug


def gauging_device():
    """Gauging device, 1 in flange: tube with its head, and the cap over it."""
    body = fused(
        flange("1/300", 45.0),
        [
            turned((0, 8), (28, 8), (28, 24), (24, 30), (24, 70), (30, 74), (30, 90), (24, 94),
                   (20, 96), (20, 176), (17, 180), (0, 180)),
            hexagon(46.0, 96.0, 118.0), rod(7, 178, 200, 0.8),
            *around(4, 25.0, 0.0, Pos(0, 0, 50) * Box(8, 5, 44)),
        ],
    )
    cap = turned(
        (20.6, 124), (27, 124), (29, 126), (29, 140), (31, 142), (31, 150), (29, 152), (29, 214),
        (27, 225, 16, 229), (10, 230), (0, 230), (0, 224), (20.6, 222),
    )
    return body, cap


def thermometer_well():
    """Thermometer well, 1 in class 150 flange: body and screw plug."""
    body = fused(
        flange("1/150", 45.0),
        [turned((0, 6), (24, 6), (24, 18), (20, 24), (20, 40), (0, 40)), hexagon(44.0, 38.0, 60.0)],
    )
    body -= turned((0, 44), (13.4, 44), (14.0, 61), (0, 61))
    plug = square_plug(13.0, 46, 60, 80, 20)
    return body, plug


def plate():
    """Manway cover plate with its upper edge broken."""
    return turned(
        (0, -PLATE_T), (PLATE_R, -PLATE_T), (PLATE_R, -3), (PLATE_R - 3, 0), (0, 0)
    )


def housing():
    """Sidewall with base flange, weld and ports."""
    leg = 8.0
    body = turned(
        (HOUSING_R, 0), (FLANGE_OUT, 0), (FLANGE_OUT, FLANGE_T - 2), (FLANGE_OUT - 2, FLANGE_T),
        (HOUSING_OUT + leg, FLANGE_T), (HOUSING_OUT, FLANGE_T + leg), (HOUSING_OUT, RIM),
        (HOUSING_R, RIM),
    )
    block = Pos((HOUSING_R + HOUSING_OUT) / 2, 0, PORT_SILL + PORT_H / 2) * Box(80, PORT_W, PORT_H)
    return body.cut(*(Rot(0, 0, b) * block for b in PORT_BEARINGS))


def port_cover():
    """Cover on the outside of the port at bearing 0: curved plate, hinge barrel above, two screws."""
    r0, r1 = HOUSING_OUT + 0.25, HOUSING_OUT + 9.25
    ring = turned((r0, 33), (r1, 33), (r1, 147), (r0, 147))
    body = ring & (Pos(r0, 0, 90) * Box(60, 128, 200))
    barrel = Pos(r1 + 1, 0, 151) * Rot(90, 0, 0) * Cylinder(6.0, 70)
    screws = [
        Rot(0, 0, s * 8.7) * along_x(hexagon(19.0, r1 - 2, r1 + 8) + rod(13, r1 - 4, r1 + 1), 90)
        for s in (-1, 1)
    ]
    boss = along_x(turned((0, r1 - 6), (22, r1 - 6), (22, r1 + 3), (19, r1 + 5), (0, r1 + 5)), 90)
    return fused(body, [barrel, boss, *screws])


ARM_Y = (42.0, 56.0)              # between these the lid's arms stand, both sides
LUG_Y = (60.0, 74.0)
ARM_TOP = 28.0                    # upper face of the arms above the pin's axis


def slab(points, y0, y1):
    """Plate parallel to the x-z plane."""
    corners = [(x, y0, z) for x, z in points]
    edges = [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]])]
    return Solid.extrude(Face(Wire(edges)), (0, y1 - y0, 0))


def eye(r, y0, y1, x=PIN_X, z=PIN_Z):
    """Round bar along y."""
    return Pos(x, (y0 + y1) / 2, z) * Rot(90, 0, 0) * Cylinder(r, y1 - y0)


def hinge_lugs():
    """Two lugs welded to the sidewall, each with the block that stops the lid's arm."""
    out = []
    t = math.radians(LID_STOP)
    turn = lambda x, z: (PIN_X + x * math.cos(t) + z * math.sin(t),  # noqa: E731
                         PIN_Z - x * math.sin(t) + z * math.cos(t))
    near = ARM_TOP + 0.6
    stop = [turn(-26, near), turn(-9, near), turn(-9, near + 13), turn(-26, near + 13)]
    for s in (1, -1):
        y0, y1 = (LUG_Y[0], LUG_Y[1]) if s > 0 else (-LUG_Y[1], -LUG_Y[0])
        a0, a1 = (ARM_Y[0], LUG_Y[0] + 2) if s > 0 else (-LUG_Y[0] - 2, -ARM_Y[0])
        web = slab([(345, 262), (372, 262), (434, 302), (448, 312), (448, 336), (434, 341), (378, 341), (368, 326), (345, 326)], y0, y1)
        web -= Cylinder(HOUSING_OUT, 1000)
        web = web + slab(stop, a0, a1)
        out.append(web - eye(PIN_D / 2 + 0.4, y0 - 5, y1 + 5))
    return Compound(children=out)


def hinge_pin():
    """Riveted pin along y."""
    shank = rod(PIN_D / 2, -79, 79)
    head = turned((0, 76), (18, 76), (17.5, 80), (15, 84), (10, 87), (0, 88))
    return Pos(PIN_X, 0, PIN_Z) * Rot(90, 0, 0) * fused(shank, [head, Rot(180, 0, 0) * head])


def lid():
    """Lid drawn closed, with two arms to the pin, stiffening bars, a weather cap and a grip."""
    r = HOUSING_OUT + 4
    top = RIM + LID_T
    disc = turned((0, RIM), (r, RIM), (r, top - 2), (r - 2, top), (0, top))
    pieces = []
    for s in (1, -1):
        y0, y1 = ARM_Y if s > 0 else (-ARM_Y[1], -ARM_Y[0])
        high = PIN_Z + ARM_TOP
        arm = slab([(180, top - 2), (376, top - 2), (379.5, PIN_Z), (PIN_X, PIN_Z), (PIN_X, high), (200, high)], y0, y1)
        pieces.append(arm + eye(18.0, y0, y1))
    pieces += [Pos(-60, 0, top + 4) * Box(440, 14, 12), Pos(20, 0, top + 4) * Box(14, 560, 12)]
    pieces.append(turned((0, top - 3), (78, top - 3), (78, top + 8), (74, top + 12), (0, top + 22)))
    grip = Pos(-318, 0, top) * Rot(0, 0, 90) * Rot(90, 0, 0) * Torus(38, 7)
    grip = grip & (Pos(-318, 0, top + 40 - 1) * Box(60, 120, 80))
    holes = [eye(PIN_D / 2 + 0.4, 40, 58), eye(PIN_D / 2 + 0.4, -58, -40)]
    return fused(disc, [*pieces, grip]).cut(*holes)


# --------------------------------------------------------------------------------------------
# Meshes
# --------------------------------------------------------------------------------------------
def triangles(shape, chord=CHORD, angle=ANGLE):
    """Vertices and triangles of a shape, vertices merged, slivers of no area dropped."""
    # Not build123d's own tessellate: that takes the chord error relative to each edge's size.
    BRepTools.Clean_s(shape.wrapped)
    BRepMesh_IncrementalMesh(shape.wrapped, chord, False, angle, False)
    points, faces = [], []
    for face in shape.faces():
        at = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face.wrapped, at)
        if mesh is None:
            raise ValueError("a face has no mesh")
        move, base = at.Transformation(), len(points)
        for i in range(1, mesh.NbNodes() + 1):
            node = mesh.Node(i).Transformed(move)
            points.append((node.X(), node.Y(), node.Z()))
        turned_over = face.wrapped.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        for i in range(1, mesh.NbTriangles() + 1):
            a, b, c = (base + k - 1 for k in mesh.Triangle(i).Get())
            faces.append((a, c, b) if turned_over else (a, b, c))
    p = np.array(points)
    f = np.array(faces, dtype=np.int64)
    _, first, back = np.unique(np.round(p / 2e-4).astype(np.int64), axis=0,
                               return_index=True, return_inverse=True)
    order = np.argsort(first)                      # keep the kernel's order: it is the same each run
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    p, f = p[first[order]], rank[back.reshape(-1)][f]
    f = f[(f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])]
    return p, f


def write_stl(path, p, f):
    """Binary STL, millimetres, fixed header."""
    path.parent.mkdir(parents=True, exist_ok=True)
    v = p.astype(np.float32)[f]
    n = np.cross(v[:, 1].astype(float) - v[:, 0], v[:, 2].astype(float) - v[:, 0])
    length = np.linalg.norm(n, axis=1)
    n = n / np.where(length > 0, length, 1)[:, None]
    rows = np.zeros(len(f), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["n"], rows["v"] = n, v
    path.write_bytes(STL_HEADER + struct.pack("<I", len(f)) + rows.tobytes())


def rough(shape, seed, chord=1.5, most=0.9):
    """A survey's mesh: coarse chords, facets of about 35 mm, noise of at most `most` mm."""
    p, f = triangles(shape, chord, 0.6)
    solid = manifold3d.Manifold(manifold3d.Mesh(p.astype(np.float32), f.astype(np.uint32)))
    if solid.status() != manifold3d.Error.NoError:
        raise ValueError(f"not closed: {solid.status()}")
    mesh = solid.refine_to_length(35.0).to_mesh()
    p = np.asarray(mesh.vert_properties, dtype=float)[:, :3]
    f = np.asarray(mesh.tri_verts, dtype=np.int64)
    noise = np.random.Generator(np.random.PCG64(seed)).normal(0.0, most / 3, p.shape)
    size = np.linalg.norm(noise, axis=1, keepdims=True)
    return p + noise * np.minimum(1.0, most / np.maximum(size, 1e-12)), f


def placed(shape, x, y, bearing):
    return Pos(x, y, 0) * Rot(0, 0, bearing) * shape


# Bodies that one car carries several times are one product in its STEP file, placed several times.
# The kernel names such a product after its last body; these are the names it gets instead.
PRODUCTS = {
    r"v[v]?2-(body|handwheel|plug)": r"angle-valve-\1",
    r"cover-270": "port-cover",
    r"SOLID": "piece",
}


def save_step(path, title, bodies):
    """One assembly; every body is an occurrence with its name."""
    children = []
    for name, shape in bodies.items():
        solids = list(shape.solids())
        body = Compound(children=solids) if len(solids) > 1 else solids[0]
        body.label = name
        children.append(body)
    export_step(Compound(label=title, children=children), path, write_pcurves=False, timestamp=STAMP)
    text = path.read_text()
    for last, product in PRODUCTS.items():
        text = re.sub(rf"\bPRODUCT\('{last}',(\s*)'{last}'",
                      lambda m: m.expand(rf"PRODUCT('{product}',") + f"'{m.expand(product)}'", text)
    path.write_text(text)


# --------------------------------------------------------------------------------------------
# Documents
# --------------------------------------------------------------------------------------------
def length(mm):
    """Millimetres as a document writes them."""
    return f'"{round(mm, 2):g} mm"'


class Document:
    """Lines of a case document."""

    def __init__(self, *lines):
        self.lines = list(lines)

    def add(self, *lines):
        self.lines.extend(lines)

    def mesh(self, name, file, deviation, basis):
        self.add("", "[[mesh]]", f'name = "{name}"', f'file = "{file}"', 'unit = "mm"',
                 f'deviation = "{deviation}"', f'basis = "{basis}"')

    def fitting(self, name, kind, size, x, y, flange_mm, meshes, removables):
        listed = ", ".join(f'"{m}"' for m in meshes)
        self.add("", "[[fitting]]", f'name = "{name}"', f'kind = "{kind}"', f'size = "{size}"',
                 f"centre = [{length(x)}, {length(y)}]", f"flange = {length(flange_mm)}",
                 f"meshes = [{listed}]")
        for label, mesh in removables:
            self.add("  [[fitting.removable]]", f'  name = "{label}"', f'  mesh = "{mesh}"')

    def write(self, path):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("\n".join(self.lines) + "\n")


# Name, kind, size, bearing, distance from the axis, shape.
VALVE = [("handwheel", "handwheel"), ("outlet plug", "plug")]
FITTINGS = [
    ("PRD", "pressure relief device", "2 in", 0, 0.0, "relief", 165.0, []),
    ("LV1", "liquid valve", "2 in", 0, 200.0, "valve", 165.0, VALVE),
    ("LV2", "liquid valve", "2 in", 180, 200.0, "valve", 165.0, VALVE),
    ("VV1", "vapor valve", "2 in", 90, 200.0, "valve", 165.0, VALVE),
    ("VV2", "vapor valve", "2 in", 270, 222.0, "valve", 165.0, VALVE),
    ("SV", "sampling valve", "1 in", 135, 235.0, "sampling", 125.0, VALVE),
    ("GD", "gauging device", "1 in", 45, 266.0, "gauging", 125.0, [("cap", "cap")]),
    ("TW", "thermometer well", "1 in", 225, 235.0, "well", 110.0, [("screw plug", "plug")]),
]
VV2_MOVED = 202.0


def fitting_bodies(shapes, vv2):
    """Body name to placed shape, for every fitting."""
    bodies, places = {}, []
    for name, kind, size, bearing, r, shape, od, removables in FITTINGS:
        if name == "VV2":
            r = vv2
        x, y = r * math.cos(math.radians(bearing)), r * math.sin(math.radians(bearing))
        suffixes = ["body", *(s for _, s in removables)]
        names = [f"{name.lower()}-{s}" for s in suffixes]
        for n, s in zip(names, shapes[shape]):
            bodies[n] = placed(s, x, y, bearing)
        places.append((name, kind, size, x, y, od, names, removables))
    return bodies, places


def car_document(title, how, files, places, lading):
    doc = Document(
        "# Invented for the demo: the builder, the car and its dimensions. Made by ../make/make.py.",
        "format = 1", f'title = "{title}"', 'units = "in"', "",
        "[measured]", 'by = "Larkmoor Car Works, drawing office (invented)"', 'on = "2026-10-02"',
        f'how = "{how}"',
    )
    for name, file in files.items():
        doc.mesh(name, file, "0.05 mm", "CAD export, chord error")
    doc.add("", "[plate]", 'mesh = "plate"', "", "[housing]", 'meshes = ["housing"]')
    mid = '13 7/8 in'
    at = {0: (mid, "0 in"), 90: ("0 in", mid), 180: ("-" + mid, "0 in"), 270: ("0 in", "-" + mid)}
    for b in PORT_BEARINGS:
        x, y = at[b]
        doc.add("", "[[port]]", f'name = "P{b}"', f'at = ["{x}", "{y}"]', f'facing = "{b} deg"',
                f"width = {length(PORT_W)}", f"height = {length(PORT_H)}",
                f"sill = {length(PORT_SILL)}", 'wall = "3/4 in"', 'deviation = "0.1 mm"',
                f'cover = "cover-{b}"')
    doc.add("", "[lid]", 'mesh = "lid"',
            f'hinge-at = ["{PIN_X:.4f} mm", "0 mm", "{PIN_Z:g} mm"]', "hinge-axis = [0, 1, 0]",
            'drawn-at = "0 deg"', f'stop = "{LID_STOP:g} deg"',
            "", "[hinge]", 'meshes = ["hinge-lugs", "hinge-pin"]',
            "", "[[studs]]", 'mesh = "housing-studs"', "", "[[studs]]", 'mesh = "manway-studs"')
    for name, kind, size, x, y, od, names, removables in places:
        doc.fitting(name, kind, size, x, y, od, names[:1],
                    [(label, m) for (label, _), m in zip(removables, names[1:])])
    doc.add("", *lading.splitlines(), *SERVICE.splitlines())
    return doc


# What the sealing check asks for.
WARM = """[lading]
name = "anhydrous ammonia"
temperature = ["-20 deg C", "10 deg C"]
air-pressure = ["95 kPa", "105 kPa"]
"""
STATED = """[lading]
name = "anhydrous ammonia"
gauge-pressure = "250 psi"
basis = "invented for the demo"
"""
SERVICE = """
[tank]
class = "112J340W"
start-to-discharge = "280 psi"
jacket = "thermal protection"

[sidewall]
yield-strength = "38 ksi"
basis = "invented for the demo"

# 3/4-10 studs hold the housing down, 1-8 studs the cover plate.
[bolts.housing]
count = 20
circle = "784 mm"
diameter = "3/4 in"
pitch = "0.1 in"
shear-strength = "75 ksi"
basis = "invented for the demo"

[bolts.cover]
count = 20
diameter = "1 in"
pitch = "0.125 in"
shear-strength = "75 ksi"
basis = "invented for the demo"
"""


def pressure_cars():
    ratio = shear_ratio()
    print(f"shear of 20 housing studs 3/4-10 over 20 manway studs 1-8: {ratio:.3f}"
          f" (49 CFR 179.100-12(c) allows 0.70)")
    if ratio > 0.70:
        raise SystemExit("housing studs too strong for the shear rule")

    shapes = {
        "valve": angle_valve(), "relief": (relief_device(),), "sampling": sampling_valve(),
        "gauging": gauging_device(), "well": thermometer_well(),
    }
    cover = port_cover()
    car = {
        "plate": plate(), "housing": housing(), "lid": lid(), "hinge-lugs": hinge_lugs(),
        "hinge-pin": hinge_pin(),
        "housing-studs": Compound(children=around(20, HOUSING_CIRCLE, 9.0, Rot(0, 0, 30) * stud("3/4", FLANGE_T, FLANGE_T))),
        "manway-studs": Compound(children=around(20, MANWAY_CIRCLE, 0.0, Rot(0, 0, 30) * stud("1", 0, 0))),
    }
    for b in PORT_BEARINGS:
        car[f"cover-{b}"] = Rot(0, 0, b) * cover

    first, places = fitting_bodies(shapes, 222.0)
    case = OUT / "pressure-car"
    files = {}
    for name, shape in {**car, **first}.items():
        write_stl(case / "mesh" / f"{name}.stl", *triangles(shape))
        files[name] = f"mesh/{name}.stl"
    save_step(case / "pressure-car.step", "pressure-car", {**car, **first})
    car_document("Larkmoor LK-340 pressure car, ammonia, car top as designed",
                 "design model, before the first car is built", files, places, WARM).write(case / "case.toml")

    second, places = fitting_bodies(shapes, VV2_MOVED)
    case = OUT / "pressure-car-vv2-moved"
    moved = {n: s for n, s in second.items() if n.startswith("vv2-")}
    files = {n: f"../pressure-car/{f}" for n, f in files.items()}
    for name, shape in moved.items():
        write_stl(case / "mesh" / f"{name}.stl", *triangles(shape))
        files[name] = f"mesh/{name}.stl"
    save_step(case / "pressure-car-vv2-moved.step", "pressure-car-vv2-moved", {**car, **second})
    car_document("Larkmoor LK-340 pressure car, ammonia, vapor valve VV2 moved inward",
                 "design model, proposal for the design review", files, places, STATED).write(case / "case.toml")


# --------------------------------------------------------------------------------------------
# The older car
# --------------------------------------------------------------------------------------------
ODD_X, ODD_Y, ODD_WALL, ODD_CORNER = 29 * IN, 25 * IN, 0.375 * IN, 90.0
ODD_RIM, ODD_BASE = 12 * IN, -38.0
ODD_PLATE_R, ODD_CIRCLE = 292.0, 262.0
ODD_MID = ODD_Y / 2 + ODD_WALL / 2
# Name, middle along the wall, bearing it faces. Opposite ports do not stand in line.
ODD_PORTS = [("N1", 122.0, 90), ("N2", 6.0, 90), ("N3", -152.0, 90),
             ("S1", 148.0, 270), ("S2", -8.0, 270), ("S3", -134.0, 270)]
ODD_FITTINGS = [
    ("V1", "liquid valve", "2 in", 137.0, 0.0, 0, "valve", 165.0, VALVE),
    ("V2", "vapor valve", "2 in", -150.0, 0.0, 180, "valve", 165.0, VALVE),
    ("RD", "pressure relief device", "2 in", 0.0, 132.0, 90, "relief", 165.0, []),
    ("GD", "gauging device", "1 in", 0.0, -138.0, 270, "gauging", 125.0, [("cap", "cap")]),
]


def odd_housing():
    box = lambda w, c, z0, z1: Pos(0, 0, z0) * extrude(  # noqa: E731
        RectangleRounded(ODD_X + 2 * w, ODD_Y + 2 * w, c + w), z1 - z0)
    wall = box(ODD_WALL, ODD_CORNER, ODD_BASE, ODD_RIM) - box(0, ODD_CORNER, ODD_BASE - 1, ODD_RIM + 1)
    base = box(40, ODD_CORNER, ODD_BASE, ODD_BASE + 16) - Pos(0, 0, ODD_BASE) * Cylinder(ODD_PLATE_R + 6, 60)
    ports = [
        Pos(x, ODD_MID if b == 90 else -ODD_MID, PORT_SILL + PORT_H / 2) * Box(PORT_W, 60, PORT_H)
        for _, x, b in ODD_PORTS
    ]
    return fused(wall, [base]).cut(*ports)


def odd_car():
    shapes = {"valve": angle_valve(), "relief": (relief_device(),), "gauging": gauging_device()}
    bodies = {
        "plate": turned((0, ODD_BASE), (ODD_PLATE_R, ODD_BASE), (ODD_PLATE_R, 0), (0, 0)),
        "housing": odd_housing(),
        "manway-studs": Compound(children=around(20, ODD_CIRCLE, 0.0, Rot(0, 0, 30) * stud("1", 0, 0))),
    }
    case = OUT / "odd-housing"
    doc = Document(
        "# Invented for the demo: the car, its survey and its dimensions. Made by ../make/make.py.",
        "format = 1", 'title = "Older car with a rectangular housing, surveyed with a camera"',
        'units = "in"', "", "[measured]", 'by = "Larkmoor yard crew (invented)"', 'on = "2026-09-18"',
        'how = "photogrammetry, 140 pictures, one 500 mm scale bar; ports with a tape; plate with a straightedge"',
    )
    places = []
    for name, kind, size, x, y, bearing, shape, od, removables in ODD_FITTINGS:
        names = [f"{name.lower()}-{s}" for s in ("body", *(s for _, s in removables))]
        for n, s in zip(names, shapes[shape]):
            bodies[n] = placed(s, x, y, bearing)
        places.append((name, kind, size, x, y, od, names, removables))
    for seed, (name, shape) in enumerate(bodies.items()):
        file = f"mesh/{name}.stl"
        if name == "plate":
            # Pictures cannot show flatness; the crew went over the plate itself.
            write_stl(case / file, *rough(shape, 1000 + seed, chord=0.1, most=0.15))
            doc.mesh(name, file, "0.3 mm", "straightedge and feeler gauges at twelve bearings (invented)")
            continue
        write_stl(case / file, *rough(shape, 1000 + seed))
        doc.mesh(name, file, "2.5 mm",
                 "photogrammetry: scale bar, noise and coarse facets together (invented)")
    save_step(case / "odd-housing.step", "odd-housing", bodies)
    doc.add("", "[plate]", 'mesh = "plate"', "", "[housing]", 'meshes = ["housing"]')
    for name, x, b in ODD_PORTS:
        y = ODD_MID if b == 90 else -ODD_MID
        doc.add("", "[[port]]", f'name = "{name}"', f"at = [{length(x)}, {length(y)}]",
                f'facing = "{b} deg"', f"width = {length(PORT_W)}", f"height = {length(PORT_H)}",
                f"sill = {length(PORT_SILL)}", 'wall = "3/8 in"', 'deviation = "2 mm"')
    doc.add("", "# The lid is off and was not surveyed.", "[lid]", "fitted = false", "", "[hinge]", "meshes = []",
            "", "[[studs]]", 'mesh = "manway-studs"')
    for name, kind, size, x, y, od, names, removables in places:
        doc.fitting(name, kind, size, x, y, od, names[:1],
                    [(label, m) for (label, _), m in zip(removables, names[1:])])
    doc.write(case / "case.toml")


if __name__ == "__main__":
    pressure_cars()
    odd_car()
