"""Holds what is read of tessellated STEP geometry against OCCT.

    tessellated.py TABLE MESH

TABLE and MESH are the built examples of crates/step. Two ways:

- OCCT writes an assembly of parts that are triangles alone, and what is read of it must have OCCT's
  triangles, volumes, box, names and places; with exact bodies beside the triangles the exact ones alone must
  be read. (OCCT 7.9 writes triangles in millimetres whatever unit it states, so that others are not tried.)
- A file with strips, fans and indices of indices, written here, is read by both: the triangles must be the
  same ones, all wound the other way around: OCCT begins a strip or fan with its corners 1, 3, 2, so that the
  prism is inside out there.

Ends with 1 where something differs.
"""

import json
import math
import os
import subprocess
import sys
import tempfile

import numpy as np
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeTorus
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.Interface import Interface_Static
from OCP.Message import Message
from OCP.Poly import Poly_Triangle, Poly_Triangulation
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shell, TopoDS_Solid
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_DocumentTool

WITHIN = 1e-9  # of volumes and lengths: OCCT writes thirteen places


def static(of, name):
    """A static method, whatever this version of the binding calls it."""
    return getattr(of, name + "_s", None) or getattr(of, name)


def triangles_of(shape):
    """OCCT's triangles of a shape, n x 3 x 3, each wound as its face is."""
    found = []
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        place = TopLoc_Location()
        face = static(TopoDS, "Face")(faces.Current())
        mesh = static(BRep_Tool, "Triangulation")(face, place)
        points = [mesh.Node(i).Transformed(place.Transformation()) for i in range(1, mesh.NbNodes() + 1)]
        points = np.array([(p.X(), p.Y(), p.Z()) for p in points])
        for i in range(1, mesh.NbTriangles() + 1):
            a, b, c = (mesh.Triangle(i).Value(k) - 1 for k in (1, 2, 3))
            found.append(points[[a, c, b] if face.Orientation() == TopAbs_REVERSED else [a, b, c]])
        faces.Next()
    return np.array(found)


def bare(shape):
    """A solid whose faces are triangles alone. OCCT writes the triangles of a reversed face as they are, so
    that they are turned here."""
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        face = static(TopoDS, "Face")(faces.Current())
        mesh = static(BRep_Tool, "Triangulation")(face, TopLoc_Location())
        turned = Poly_Triangulation(mesh.NbNodes(), mesh.NbTriangles(), False)
        for i in range(1, mesh.NbNodes() + 1):
            turned.SetNode(i, mesh.Node(i))
        for i in range(1, mesh.NbTriangles() + 1):
            a, b, c = (mesh.Triangle(i).Value(k) for k in (1, 2, 3))
            if face.Orientation() == TopAbs_REVERSED:
                b, c = c, b
            turned.SetTriangle(i, Poly_Triangle(a, b, c))
        made = TopoDS_Face()
        builder.MakeFace(made, turned)
        builder.Add(shell, made)
        faces.Next()
    shell.Closed(True)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def volume(corners):
    about = corners.mean((0, 1))
    a, b, c = (corners[:, k] - about for k in range(3))
    return float((a * np.cross(b, c)).sum() / 6.0)


def parts():
    cone = BRepPrimAPI_MakeCone(10.0, 4.0, 20.0).Shape()
    for name, shape in [
        ("can", BRepPrimAPI_MakeCylinder(5.0, 10.0).Shape()),
        ("ring", BRepPrimAPI_MakeTorus(12.0, 4.0).Shape()),
        ("cone", cone),
    ]:
        BRepMesh_IncrementalMesh(shape, 0.05, False, 0.3, False)
        yield name, shape


PLACES = [("can", "left", (0, 0, 0)), ("can", "right", (70, 0, 0)), ("ring", "ring", (0, 40, 5)), ("cone", "cone", (0, -90, 0))]


def assembled(shapes, path, tessellated):
    """Writes the parts in an assembly."""
    writer = STEPCAFControl_Writer()
    if not static(Interface_Static, "SetCVal")("write.step.schema", "AP242DIS"):
        sys.exit("OCCT does not know AP242")
    static(Interface_Static, "SetIVal")("write.step.tessellated", tessellated)
    app = static(XCAFApp_Application, "GetApplication")()
    doc = TDocStd_Document(TCollection_ExtendedString("x"))
    app.NewDocument(TCollection_ExtendedString("MDTV-XCAF"), doc)
    tool = static(XCAFDoc_DocumentTool, "ShapeTool")(doc.Main())

    def name(label, text):
        static(TDataStd_Name, "Set")(label, TCollection_ExtendedString(text))
        return label

    labels = {part: name(tool.AddShape(shape, False), part) for part, shape in shapes.items()}
    whole = name(tool.NewShape(), "whole")
    for part, use, at in PLACES:
        place = gp_Trsf()
        place.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), math.radians(30.0))
        place.SetTranslationPart(gp_Vec(*map(float, at)))
        name(tool.AddComponent(whole, labels[part], TopLoc_Location(place)), use)
    tool.UpdateAssemblies()
    writer.Transfer(doc, STEPControl_AsIs)
    writer.Write(path)


def run(program, *arguments):
    done = subprocess.run([program, *arguments], capture_output=True, text=True)
    if done.returncode:
        sys.exit("%s: %s" % (os.path.basename(program), done.stderr.strip()[:200]))
    return json.loads(done.stdout)


def near(a, b, size=0.0):
    return abs(a - b) <= WITHIN * max(abs(a), abs(b), size)


def from_occt(table, folder):
    """What differs of assemblies that OCCT writes."""
    exact = dict(parts())
    path = os.path.join(folder, "bare.step")
    bodies = {part: bare(shape) for part, shape in exact.items()}
    assembled(bodies, path, 2)
    text = open(path).read()
    if "TRIANGULATED_FACE" not in text or "ADVANCED_FACE" in text:
        yield "OCCT wrote something else than triangles"
    told = run(table, path)["read"]
    if told["findings"]:
        yield "%s" % told["findings"]
    corners = {part: triangles_of(shape) for part, shape in bodies.items()}
    ours = sorted((b["triangles"], b["volume"], b["sound"], b["kind"], b["deviation"]) for b in told["bodies"])
    theirs = sorted((len(c), volume(c)) for c in corners.values())
    for (count, held, sound, kind, deviation), (their_count, their_held) in zip(ours, theirs, strict=True):
        print("%8d triangles, OCCT %8d; %14.6f mm3, OCCT %14.6f" % (count, their_count, held, their_held))
        if count != their_count or not near(held, their_held) or not sound:
            yield "a body is not OCCT's (sound: %s)" % sound
        if kind != "Tessellated" or deviation is not None:
            yield "a body is %s with the deviation %s" % (kind, deviation)
    places = sorted((leaf["product"], leaf["instance"], leaf["at"]) for leaf in told["leaves"])
    for (part, use, at), (their_part, their_use, their_at) in zip(places, sorted(PLACES), strict=True):
        if (part, use) != (their_part, their_use) or not all(near(a, b, 100.0) for a, b in zip(at, their_at)):
            yield "%s as %s at %s is not OCCT's" % (part, use, at)
    turn = math.radians(30.0)
    turn = np.array([[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]])
    all_points = np.vstack([corners[p].reshape(-1, 3) @ turn.T + np.array(at) for p, _, at in PLACES])
    box = [*all_points.min(0), *all_points.max(0)]
    if not all(near(a, b, 100.0) for a, b in zip(told["low"] + told["high"], box)):
        yield "the box %s is not %s" % (told["low"] + told["high"], box)
    path = os.path.join(folder, "both.step")
    assembled(exact, path, 1)
    if "TESSELLATED_SOLID" not in open(path).read():
        yield "OCCT wrote no triangles beside the exact bodies"
    told = run(table, path)["read"]
    kinds = [b["kind"] for b in told["bodies"]]
    if kinds != ["Solid"] * 3 or told["findings"] or not all(b["sound"] for b in told["bodies"]):
        yield "beside exact bodies: %s, %s" % (kinds, told["findings"])


def written():
    """A hexagonal prism whose wall is a strip and whose ends are fans, over a list of places of which every
    other one is another's."""
    points = []
    for z in (0.0, 4.0):
        for k in range(6):
            points += [(10 * math.cos(math.tau * k / 6), 10 * math.sin(math.tau * k / 6), z), (99.0, 99.0, 99.0)]
    places = ",".join("(%r,%r,%r)" % p for p in points)
    index = ",".join(str(2 * k + 1) for k in range(12))
    wall = "((7,1,8,2,9,3,10,4,11,5,12,6,7,1))"
    ends = "((7,8,9,10,11,12),(1,6,5,4,3,2))"
    return """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('','',(''),(''),'','','');
FILE_SCHEMA(('AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF'));
ENDSEC;
DATA;
#1=COORDINATES_LIST('',24,(%s));
#2=COMPLEX_TRIANGULATED_FACE('',#1,12,(),$,(%s),%s,%s);
#3=TESSELLATED_SHELL('',(#2),$);
#4=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.));
#5=(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.));
#6=(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT());
#7=(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT((#4,#5,#6))REPRESENTATION_CONTEXT('',''));
#8=TESSELLATED_SHAPE_REPRESENTATION('',(#3),#7);
#9=APPLICATION_CONTEXT('');
#10=PRODUCT_CONTEXT('',#9,'');
#11=PRODUCT('prism','prism','',(#10));
#12=PRODUCT_DEFINITION_FORMATION('','',#11);
#13=PRODUCT_DEFINITION_CONTEXT('',#9,'');
#14=PRODUCT_DEFINITION('','',#12,#13);
#15=PRODUCT_DEFINITION_SHAPE('','',#14);
#16=SHAPE_DEFINITION_REPRESENTATION(#15,#8);
ENDSEC;
END-ISO-10303-21;
""" % (places, index, wall, ends)


def wound(corners):
    """Triangles by their corners, the least first, so that turned ones differ."""
    found = set()
    for triangle in corners:
        rounded = [tuple(float(x) + 0.0 for x in np.round(p, 6)) for p in triangle]
        least = rounded.index(min(rounded))
        found.add(tuple(rounded[least:] + rounded[:least]))
    return found


def by_both(mesh, folder):
    """What differs of a file that both read."""
    path = os.path.join(folder, "written.step")
    with open(path, "w") as file:
        file.write(written())
    reader = STEPControl_Reader()
    static(Interface_Static, "SetIVal")("read.step.tessellated", 1)
    reader.ReadFile(path)
    reader.TransferRoots()
    theirs = triangles_of(reader.OneShape())
    body = run(mesh, path, "0.1")["bodies"][0]
    ours = np.array(body["vertices"])[np.array(body["triangles"])]
    print("written here: %d triangles, OCCT %d" % (len(ours), len(theirs)))
    if len(theirs) == 0 or wound(ours) != wound(theirs[:, ::-1]):
        yield "strips and fans are not OCCT's"
    if not near(volume(ours), 600 * math.sqrt(3)) or not body["sound"]:
        yield "the prism holds %s (sound: %s)" % (volume(ours), body["sound"])


def main():
    for printer in list(static(Message, "DefaultMessenger")().Printers()):
        static(Message, "DefaultMessenger")().RemovePrinter(printer)
    with tempfile.TemporaryDirectory() as folder:
        faults = [*from_occt(sys.argv[1], folder), *by_both(sys.argv[2], folder)]
    for fault in faults:
        print("DIFFERS:", fault)
    sys.exit(bool(faults))


main()
