"""Times and memory of reading mesh files, in processes of their own."""

import json
import resource
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np

READ = {
    "trimesh": "import trimesh; m = trimesh.load(path, process=False)",
    "trimesh, merged": "import trimesh; m = trimesh.load(path)",
    "Open3D": "import open3d; m = open3d.io.read_triangle_mesh(path)",
}
# What the libraries take to start is not counted.
PROGRAM = """
import sys, json, time, resource
path = sys.argv[1]
{imports}
before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
{read}
print(json.dumps([time.process_time() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before]))
"""


def grid(triangles):
    """A torus of about so many triangles, millimetres."""
    n = int(np.sqrt(triangles / 2))
    u = np.arange(n) * (2 * np.pi / n)
    a, b = np.meshgrid(u, u, indexing="ij")
    ring = 200.0 + 50.0 * np.cos(b)
    points = np.stack([ring * np.cos(a), ring * np.sin(a), 50.0 * np.sin(b)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    at = lambda i, j: (i % n) * n + j % n
    corners = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]
    quads = np.stack(corners, axis=-1).reshape(-1, 4)
    faces = np.stack([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]], axis=1).reshape(-1, 3)
    return points.astype(np.float32), faces.astype(np.uint32)


def stl(path, points, faces):
    rows = np.zeros(len(faces), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["v"] = points[faces]
    path.write_bytes(bytes(80) + np.uint32(len(faces)).tobytes() + rows.tobytes())


def stl_text(path, points, faces):
    with path.open("w") as out:
        out.write("solid torus\n")
        for corners in points[faces]:
            rows = "".join("vertex %.9g %.9g %.9g\n" % tuple(c) for c in corners)
            out.write(f"facet normal 0 0 0\nouter loop\n{rows}endloop\nendfacet\n")
        out.write("endsolid torus\n")


def obj(path, points, faces):
    with path.open("w") as out:
        out.write("o torus\n")
        np.savetxt(out, points, fmt="v %.9g %.9g %.9g")
        np.savetxt(out, faces + 1, fmt="f %d %d %d")


def ply(path, points, faces, order):
    text = order == "ascii"
    head = (
        f"ply\nformat {order} 1.0\nelement vertex {len(points)}\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    with path.open("wb") as out:
        out.write(head.encode())
        if text:
            np.savetxt(out, points, fmt="%.9g %.9g %.9g")
            np.savetxt(out, faces, fmt="3 %d %d %d")
            return
        end = ">" if order == "binary_big_endian" else "<"
        out.write(points.astype(end + "f4").tobytes())
        rows = np.empty(len(faces), dtype=[("n", "u1"), ("v", end + "i4", 3)])
        rows["n"], rows["v"] = 3, faces
        out.write(rows.tobytes())


def glb(path, points, faces):
    data = points.astype("<f4").tobytes() + faces.astype("<u4").tobytes()
    document = {
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}],
        "nodes": [{"name": "torus", "mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3",
             "min": points.min(0).tolist(), "max": points.max(0).tolist()},
            {"bufferView": 1, "componentType": 5125, "count": faces.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": points.nbytes},
            {"buffer": 0, "byteOffset": points.nbytes, "byteLength": faces.nbytes},
        ],
        "buffers": [{"byteLength": len(data)}],
    }
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    word = lambda n: np.uint32(n).tobytes()
    path.write_bytes(
        b"glTF" + word(2) + word(28 + len(text) + len(data)) + word(len(text)) + b"JSON" + text
        + word(len(data)) + b"BIN\0" + data
    )


def threemf(path, points, faces):
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    relations = (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship '
        'Target="/3D/3dmodel.model" Id="r" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("_rels/.rels", relations)
        with out.open("3D/3dmodel.model", "w") as part:
            part.write(f'<model unit="millimeter" xmlns="{core}"><resources><object id="1" type="model">'.encode())
            part.write(b"<mesh><vertices>")
            np.savetxt(part, points, fmt='<vertex x="%.9g" y="%.9g" z="%.9g"/>')
            part.write(b"</vertices><triangles>")
            np.savetxt(part, faces, fmt='<triangle v1="%d" v2="%d" v3="%d"/>')
            part.write(b'</triangles></mesh></object></resources><build><item objectid="1"/></build></model>')


def best(run):
    found = [run() for _ in range(5)]
    return min(f[0] for f in found), min(f[1] for f in found)


def ours(bench, path):
    def run(what):
        done = subprocess.run([bench, what, str(path)], capture_output=True, text=True, check=True)
        seconds, kilobytes, triangles, vertices = done.stdout.split()
        return float(seconds), int(kilobytes), int(triangles), int(vertices)

    return best(lambda: run("bytes")), best(lambda: run("read")), run("read")[2:]


def theirs(name, path):
    imports = READ[name].split(";")[0]
    program = PROGRAM.format(imports=imports, read=READ[name].split(";")[1].strip())

    def run():
        done = subprocess.run([sys.executable, "-c", program, str(path)], capture_output=True, text=True)
        if done.returncode != 0:
            raise RuntimeError(done.stderr.strip().splitlines()[-1] if done.stderr.strip() else "ended")
        return json.loads(done.stdout.strip().splitlines()[-1])

    return best(run)


def main():
    bench, folder, count = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    folder.mkdir(parents=True, exist_ok=True)
    large, small = grid(count), grid(count / 5)
    order = np.random.default_rng(1).permutation(len(small[1]))
    files = [
        ("STL, binary", "large.stl", stl, large, ()),
        ("STL, binary", "small.stl", stl, small, ()),
        ("the same, triangles in any order", "mixed.stl", stl, (small[0], small[1][order]), ()),
        ("STL, text", "text.stl", stl_text, small, ()),
        ("OBJ", "a.obj", obj, small, ()),
        ("PLY, text", "text.ply", ply, small, ("ascii",)),
        ("PLY, binary", "little.ply", ply, small, ("binary_little_endian",)),
        ("PLY, other order of bytes", "big.ply", ply, small, ("binary_big_endian",)),
        ("GLB", "a.glb", glb, small, ()),
        ("3MF", "a.3mf", threemf, small, ()),
    ]
    print("| file | triangles | MB | bytes s | overcup s | times bytes | peak MB | " + " | ".join(f"{n} s" for n in READ) + " |")
    print("|---|---|---|---|---|---|---|" + "---|" * len(READ))
    worst = None
    for what, name, write, (points, faces), more in files:
        path = folder / f"{count}-{name}"
        if not path.exists():
            draft = path.with_name(f"draft-{path.name}")
            write(draft, points, faces, *more)
            draft.rename(path)
        (plain, _), (read, peak), (triangles, vertices) = ours(bench, path)
        if (triangles, vertices) != (len(faces), len(points)):
            sys.exit(f"{path}: {triangles} triangles and {vertices} vertices")
        times = read / plain
        worst = times if worst is None else worst
        cells = []
        for peer in READ:
            try:
                cells.append(f"{theirs(peer, path)[0]:.2f}")
            except RuntimeError as error:
                cells.append("not here" if "No module" in str(error) or "cannot open" in str(error) else "fails")
        megabytes = path.stat().st_size / 1e6
        print(f"| {what} | {triangles:,} | {megabytes:.0f} | {plain:.3f} | {read:.3f} | {times:.1f} | {peak / 1e3:.0f} | "
              + " | ".join(cells) + " |", flush=True)
    sys.exit(1 if worst > 3.0 else 0)


main()
