"""Mesh files as trimesh and Open3D read them, beside what `overcup inspect` tells of them."""

import base64
import io
import json
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import trimesh

try:
    import open3d
except (ImportError, OSError) as error:
    open3d = None
    print(f"Open3D is not here ({error}): trimesh alone")

MM = {"millimeter": 1.0, "meters": 1000.0, "inch": 25.4, "centimeter": 10.0, "foot": 304.8}
WORDS = {"millimeter": "mm", "meters": "m", "inch": "in", "centimeter": "cm", "foot": "ft"}
OVERCUP = sys.argv[1]
differences = []


def inspect(path, unit=None):
    given = ["--unit", unit] if unit else []
    done = subprocess.run([OVERCUP, "inspect", str(path), "--json", *given], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{path}: {done.stderr}")
    return json.loads(done.stdout)


def distinct(mesh):
    """Different corners, as the file has them."""
    used = np.asarray(mesh.vertices)[np.unique(mesh.faces)] + 0.0
    return len(np.unique(used, axis=0))


def told(mesh, scale):
    """What inspect should tell of a mesh."""
    low, high = np.asarray(mesh.bounds) * scale
    volume = mesh.volume * scale**3
    return {
        "triangles": len(mesh.faces),
        "vertices": distinct(mesh),
        "low": low,
        "high": high,
        "area": mesh.area * scale**2,
        "volume": volume,
    }


def near(a, b, size):
    return np.all(np.abs(np.asarray(a) - np.asarray(b)) <= 2e-6 * size)


def compare(path, found, wanted):
    """Bodies of both, each with its name."""
    size = max(np.abs(w["high"]).max() + np.abs(w["low"]).max() for _, w in wanted)
    rest = list(wanted)
    for body in found:
        match = [
            (name, w)
            for name, w in rest
            if (name is None or name == body["name"])
            and near(w["low"], body["low"], size)
            and near(w["high"], body["high"], size)
        ]
        if not match:
            differences.append(f"{path}: {body['name']} at {body['low']} is not in the reference")
            continue
        name, w = match[0]
        rest.remove(match[0])
        for key in ("triangles", "vertices"):
            if w[key] != body[key]:
                differences.append(f"{path}: {body['name']}: {body[key]} {key}, not {w[key]}")
        span = np.linalg.norm(w["high"] - w["low"])
        for key, measure in (("area", span**2), ("volume", span**3)):
            if body[key] is not None and not near(w[key], body[key], measure * 10):
                differences.append(f"{path}: {body['name']}: {key} {body[key]}, not {w[key]}")
        if body["volume"] is None:
            differences.append(f"{path}: {body['name']} is not closed: {body['wrong']}")
    for name, w in rest:
        differences.append(f"{path}: {name} at {w['low']} was not found")


def random_mesh(rng):
    kind = rng.integers(5)
    size = rng.uniform(5.0, 80.0, 3)
    if kind == 0:
        return trimesh.creation.box(size)
    if kind == 1:
        return trimesh.creation.cylinder(size[0], size[1], sections=int(rng.integers(5, 40)))
    if kind == 2:
        return trimesh.creation.icosphere(int(rng.integers(1, 4)), size[0])
    if kind == 3:
        return trimesh.creation.annulus(size[0], size[0] + size[1], size[2])
    return trimesh.creation.torus(size[0] + size[1], size[0] * 0.5)


def random_scene(rng):
    """Some bodies in nested, turned, stretched and mirrored frames; some bodies placed more than once."""
    scene = trimesh.Scene()
    frames = ["world"]
    for number in range(int(rng.integers(1, 7))):
        matrix = trimesh.transformations.random_rotation_matrix(rng.random(3))
        matrix[:3, :3] *= rng.uniform(0.5, 2.0)
        if rng.random() < 0.4:
            matrix[:3, :3] @= np.diag([-1.0, 1.0, 1.0])
        matrix[:3, 3] = rng.uniform(-300.0, 300.0, 3)
        parent = frames[int(rng.integers(len(frames)))]
        name = f"Ventil {number} – größer"
        if rng.random() < 0.3 and scene.geometry:
            geometry = list(scene.geometry)[0]
            scene.graph.update(frame_to=name, frame_from=parent, matrix=matrix, geometry=geometry)
        else:
            scene.add_geometry(
                random_mesh(rng), node_name=name, geom_name=f"shape {number}", parent_node_name=parent,
                transform=matrix,
            )
        frames.append(name)
    return scene


def bodies_of(scene, key, scale):
    """Placed bodies of a scene that trimesh has read; `key` is where it keeps the name."""
    out = []
    for node in scene.graph.nodes_geometry:
        matrix, geometry = scene.graph[node]
        mesh = scene.geometry[geometry].copy()
        mesh.apply_transform(matrix)
        name = {"node": node, "shape": geometry, None: None}[key]
        out.append((name, told(mesh, scale)))
    return out


def scene_files(scene, folder, number):
    """Writes a scene in the formats that hold several bodies; gives path, unit and where the name is."""
    path = folder / f"{number}.glb"
    path.write_bytes(scene.export(file_type="glb"))
    yield path, "m", "node"
    parts = scene.export(file_type="gltf")
    document = json.loads(parts["model.gltf"])
    beside = number % 2 == 0
    for buffer in document["buffers"]:
        if beside:
            (folder / f"{number}-{buffer['uri']}").write_bytes(parts[buffer["uri"]])
            buffer["uri"] = f"{number}-{buffer['uri']}"
        else:
            coded = base64.b64encode(parts[buffer["uri"]]).decode()
            buffer["uri"] = f"data:application/octet-stream;base64,{coded}"
    path = folder / f"{number}.gltf"
    path.write_text(json.dumps(document))
    yield path, "m", "node"
    path = folder / f"{number}.3mf"
    path.write_bytes(scene.export(file_type="3mf"))
    yield path, None, "shape"


def ply_big_endian(mesh):
    head = (
        "ply\nformat binary_big_endian 1.0\n"
        f"element vertex {len(mesh.vertices)}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {len(mesh.faces)}\nproperty list uchar uint vertex_indices\nend_header\n"
    )
    rows = np.empty(len(mesh.faces), dtype=[("n", "u1"), ("v", ">u4", 3)])
    rows["n"], rows["v"] = 3, mesh.faces
    return head.encode() + mesh.vertices.astype(">f8").tobytes() + rows.tobytes()


def mesh_files(mesh, folder, number):
    for ending, name, options in (
        ("stl", "binary", {}),
        ("stl_ascii", "text", {}),
        ("obj", "obj", {"digits": 17}),
        ("ply", "ply", {"encoding": "binary"}),
        ("ply", "ply-text", {"encoding": "ascii"}),
    ):
        data = mesh.export(file_type=ending, **options)
        path = folder / f"{number}-{name}.{ending.split('_')[0]}"
        path.write_bytes(data.encode() if isinstance(data, str) else data)
        yield path
    path = folder / f"{number}-big.ply"
    path.write_bytes(ply_big_endian(mesh))
    yield path


def look_with_open3d(path, found):
    mesh = open3d.io.read_triangle_mesh(str(path))
    if path.suffix == ".stl":
        mesh = mesh.remove_duplicated_vertices()
    triangles = sum(body["triangles"] for body in found)
    if len(mesh.triangles) != triangles:
        differences.append(f"{path}: Open3D reads {len(mesh.triangles)} triangles, not {triangles}")
    low, high = np.asarray(mesh.get_min_bound()), np.asarray(mesh.get_max_bound())
    size = np.abs(high).max() + np.abs(low).max()
    if not near(low, found[0]["low"], size) or not near(high, found[0]["high"], size):
        differences.append(f"{path}: Open3D has its box from {low} to {high}")
    return 1


def main():
    examples, folder, count = Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])
    rng = np.random.default_rng(1)
    files = looked = 0
    for number in range(count):
        scene = random_scene(rng)
        for path, unit, key in scene_files(scene, folder, number):
            found = inspect(path, unit)
            read = trimesh.load_scene(path, process=False)
            scale = MM[read.units]
            if found["unit"] != WORDS[read.units]:
                differences.append(f"{path}: in {found['unit']}, not {read.units}")
            compare(path, found["bodies"], bodies_of(read, key, scale))
            files += 1
        mesh = random_mesh(rng)
        mesh.apply_transform(trimesh.transformations.random_rotation_matrix(rng.random(3)))
        for path in mesh_files(mesh, folder, number):
            found = inspect(path, "mm")
            read = trimesh.load_mesh(path, process=False)
            compare(path, found["bodies"], [(None, told(read, 1.0))])
            files += 1
            if open3d is not None:
                looked += look_with_open3d(path, found["bodies"])

    # What overcup writes itself: a scene as GLB, and its parts as OBJ.
    out = folder / "scene.glb"
    case = [str(examples / "pressure-car"), "--kit", str(examples / "kit.toml"), "--fitting", "LV1"]
    subprocess.run([OVERCUP, "export", *case, "--out", str(out)], capture_output=True)
    found = inspect(out)
    read = trimesh.load_scene(out, process=False)
    lines = [n for n in read.graph.nodes_geometry if not hasattr(read.geometry[read.graph[n][1]], "faces")]
    for node in lines:
        read.delete_geometry(read.graph[node][1])
    # What is not there at the start is scaled to nothing.
    wanted = [(name, w) for name, w in bodies_of(read, "node", 1000.0) if w["area"] > 0.0]
    names = sorted(name for name, _ in wanted)
    if sorted(b["name"] for b in found["bodies"]) != names:
        differences.append(f"{out}: bodies {[b['name'] for b in found['bodies']]}, not {names}")
    for name, w in wanted:
        body = next((b for b in found["bodies"] if b["name"] == name), None)
        if body and (body["triangles"] != w["triangles"] or not near(w["low"], body["low"], 1e3)):
            differences.append(f"{out}: {name} is another body")
    meshes = folder / "meshes"
    subprocess.run([OVERCUP, "check", *case, "--meshes", str(meshes)], capture_output=True)
    for path in sorted(meshes.glob("*/*.obj")):
        found = inspect(path, "mm")["bodies"]
        read = trimesh.load_mesh(path, process=False)
        compare(path, [dict(b, volume=b["volume"] or read.volume) for b in found], [(None, told(read, 1.0))])
        files += 1
    files += 1

    for difference in differences[:40]:
        print(difference)
    print(f"{files} files, {looked} of them with Open3D too: {len(differences)} differences")
    sys.exit(1 if differences or files < 9 * count else 0)


main()
