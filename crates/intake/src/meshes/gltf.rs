//! glTF 2.0, as text with its buffers in it or beside it, and as one binary file (GLB).
//!
//! The document is parsed by `serde_json` into types of our own. The `gltf` 1.4 crate, with which scenes
//! are written, is gone around here: its reader of sparse accessors panics where values are missing, its
//! importer follows a buffer's name to any file of the machine and decodes every picture, and placements
//! come as `f32`.
//!
//! - Units are metres, by the standard. A body is a node with a mesh, whatever its materials: its pieces
//!   are closed only together. Its name is the node's, or the mesh's; a mesh that several nodes use is as
//!   many bodies.
//! - Placements multiply from the scene's roots down, as matrices or as translation, rotation and scale; a
//!   mirrored one turns the triangles around. No node is come to twice, so nothing goes in circles.
//! - A node scaled to nothing along all three axes is hidden, by the standard: it is left out with what it
//!   holds, and told of. One flattened along fewer is a fault.
//! - Of the extensions that a document requires, those are understood that say nothing of shape (materials,
//!   textures, lights) and quantised positions. Any other is a fault by its name, and so is instancing of
//!   a node by an extension even where it is not required: without it bodies would be missing.
//! - Skins and morphed meshes are a fault: what they would look like is not known here.

mod buffers;
mod document;

use super::distinct::Pool;
use super::fault::{AGAIN, COARSER, DAMAGED, MeshFault, name, shown};
use super::{MOST_TRIANGLES, ModelBody, Read, check_bodies, numbered, place};
use document::{Accessor, Document, Node, Primitive};
use nalgebra::{Matrix4, Point3, Quaternion, UnitQuaternion, Vector3};
use std::borrow::Cow;
use std::path::Path;

/// How extensions begin that say nothing of shape.
const IDLE: [&str; 8] = [
    "KHR_materials_",
    "KHR_texture_",
    "EXT_texture_",
    "MSFT_texture_",
    "KHR_lights_",
    "KHR_xmp",
    "EXT_lights_",
    "KHR_mesh_quantization",
];

/// Reads the bodies of a glTF or GLB file, in millimetres; `path` says where files beside it lie.
pub(super) fn read(bytes: &[u8], path: &Path) -> Result<Read, MeshFault> {
    let (text, own) = if bytes.starts_with(b"glTF") { chunks(bytes)? } else { (bytes, None) };
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
    let document: Document = serde_json::from_slice(text).map_err(|error| {
        let place = format!("line {}, column {}", error.line(), error.column());
        let what = error.to_string();
        let what = what.split(" at line ").next().unwrap_or("");
        let what: String = what.chars().filter(|c| !c.is_control()).take(120).collect();
        MeshFault::at(place, format_args!("not glTF: {what}"), AGAIN)
    })?;
    let version = |text: &str| text.split('.').next().map(str::to_owned);
    if version(&document.asset.version).as_deref() != Some("2")
        || document.asset.min_version.as_deref().is_some_and(|v| v != "2.0")
    {
        let stated = document.asset.min_version.as_ref().unwrap_or(&document.asset.version);
        let what = format!("glTF of version \"{}\"", shown(stated.as_bytes()));
        return Err(MeshFault::whole(what, "glTF 2.0 is read: export it as that"));
    }
    let unknown = |name: &&String| !IDLE.iter().any(|idle| name.starts_with(idle));
    if let Some(name) = document.extensions_required.iter().find(unknown) {
        let what = format!("the file requires the extension \"{}\"", shown(name.as_bytes()));
        return Err(MeshFault::whole(what, "it is not read: export the scene without it"));
    }
    let (buffers, beside) = buffers::read(&document.buffers, own, path)?;
    let scene = Scene { document: &document, buffers };
    let mut read = scene.bodies()?;
    read.beside = beside;
    Ok(read)
}

/// The text and the bytes that a GLB file carries.
fn chunks(bytes: &[u8]) -> Result<(&[u8], Option<&[u8]>), MeshFault> {
    let word = |bytes: &[u8], at: usize| -> Option<u32> {
        Some(u32::from_le_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
    };
    let damaged = |what: String| MeshFault::whole(what, DAMAGED);
    let (Some(version), Some(length)) = (word(bytes, 4), word(bytes, 8)) else {
        return Err(damaged(format!(
            "the file has {} bytes, too few for a GLB header",
            bytes.len()
        )));
    };
    if version != 2 {
        let what = format!("GLB of version {version}");
        return Err(MeshFault::whole(what, "glTF 2.0 is read: export it as that"));
    }
    if u64::from(length) != bytes.len() as u64 {
        let held = bytes.len();
        return Err(damaged(format!("the header promises {length} bytes, the file holds {held}")));
    }
    let mut found: [Option<&[u8]>; 2] = [None, None];
    let mut rest = bytes.get(12..).unwrap_or(&[]);
    let mut number = 0;
    while !rest.is_empty() {
        number += 1;
        let chunk = word(rest, 0).zip(word(rest, 4)).and_then(|(length, kind)| {
            let (chunk, after) = rest.get(8..)?.split_at_checked(usize::try_from(length).ok()?)?;
            Some((kind, chunk, after))
        });
        let Some((kind, chunk, after)) = chunk else {
            return Err(damaged(format!("chunk {number} is longer than the file")));
        };
        rest = after;
        // "JSON" and "BIN"; others are to be passed over.
        let slot = match kind {
            0x4e4f_534a => 0,
            0x004e_4942 => 1,
            _ => continue,
        };
        if let Some(slot @ None) = found.get_mut(slot) {
            *slot = Some(chunk);
        }
    }
    let [text, own] = found;
    Ok((text.ok_or_else(|| damaged("the file has no JSON chunk".to_owned()))?, own))
}

struct Scene<'a> {
    document: &'a Document,
    buffers: Vec<Cow<'a, [u8]>>,
}

/// A node to come to.
struct Visit {
    node: usize,
    /// The scene from what holds the node.
    from: Matrix4<f64>,
    /// The node that holds it.
    parent: Option<usize>,
}

impl Scene<'_> {
    fn bodies(&self) -> Result<Read, MeshFault> {
        let mut out = Read::default();
        let nodes = &self.document.nodes;
        let roots = self.roots(&mut out.notes)?;
        let mut seen = vec![false; nodes.len()];
        let mut parents = vec![None; nodes.len()];
        let mut meshes: Vec<Option<Shape>> = Vec::new();
        meshes.resize_with(self.document.meshes.len(), || None);
        let visit = |node, from, parent| Visit { node, from, parent };
        let mut todo: Vec<Visit> =
            roots.iter().rev().map(|n| visit(*n, Matrix4::identity(), None)).collect();
        let mut triangles = 0;
        let (mut left_out, mut hidden) = (0, 0);
        while let Some(Visit { node: at, from, parent }) = todo.pop() {
            let told = |what: &str| MeshFault::at(format_args!("node {at}"), what, AGAIN);
            let (Some(node), Some(seen), Some(held_by)) =
                (nodes.get(at), seen.get_mut(at), parents.get_mut(at))
            else {
                return Err(told("there is no such node"));
            };
            if std::mem::replace(seen, true) {
                return Err(told("it is held by two nodes, or by itself"));
            }
            *held_by = parent;
            if node.extensions.as_ref().is_some_and(|e| e.instancing.is_some()) {
                let what = "it is placed many times by the extension EXT_mesh_gpu_instancing";
                let remedy = "it is not read: export the scene without it";
                return Err(MeshFault::at(format_args!("node {at}"), what, remedy));
            }
            let scene_from_node = from * matrix(node).map_err(told)?;
            if scene_from_node.fixed_view::<3, 3>(0, 0).iter().all(|c| *c == 0.0) {
                hidden += 1;
                continue;
            }
            let children = node.children.iter().rev();
            todo.extend(children.map(|child| visit(*child, scene_from_node, Some(at))));
            let Some(mesh) = node.mesh else { continue };
            if node.skin.is_some() {
                return Err(told("its mesh is bent by a skin"));
            }
            let Some(slot) = meshes.get_mut(mesh) else {
                return Err(told("it names a mesh that is not there"));
            };
            let shape = match slot {
                Some(shape) => shape,
                slot => slot.insert(self.shape(mesh)?),
            };
            left_out += shape.left_out;
            if shape.mesh.triangles.is_empty() {
                continue;
            }
            check_bodies(out.bodies.len())?;
            triangles += shape.mesh.triangles.len() as u64;
            if triangles > MOST_TRIANGLES {
                let what = format!(
                    "the scene's meshes, placed, have more than {MOST_TRIANGLES} triangles"
                );
                return Err(MeshFault::whole(what, COARSER));
            }
            // Metres.
            let placed = place(&shape.mesh, &scene_from_node, 1000.0).ok_or_else(|| {
                told("its placement flattens its mesh, or moves it beyond all bounds")
            })?;
            let named = [&node.name, &self.document.meshes.get(mesh).and_then(|m| m.name.clone())];
            let mut named = named.into_iter().flatten().map(|n| name(n.as_bytes()));
            let named = named.find(|n| !n.is_empty());
            let number = numbered(out.bodies.len() + 1);
            let mut body = ModelBody::new(named.unwrap_or(number), placed);
            body.colour = shape.colour;
            body.within = within(nodes, &parents, at);
            out.bodies.push(body);
        }
        if hidden > 0 {
            let what =
                "nodes are scaled to nothing, which hides them, and left out with what they hold";
            out.notes.push(format!("{hidden} {what}"));
        }
        if out.bodies.is_empty() {
            let remedy =
                "export the scene again and check that the exporter had something selected";
            return Err(MeshFault::whole("the scene holds no triangle", remedy));
        }
        if left_out > 0 {
            out.notes.push(format!("{left_out} pieces made of points or lines are left out"));
        }
        Ok(out)
    }

    /// The roots of the scene that is shown.
    fn roots(&self, notes: &mut Vec<String>) -> Result<Vec<usize>, MeshFault> {
        let scenes = &self.document.scenes;
        if scenes.is_empty() {
            // Without a scene, what no node holds.
            let mut held = vec![false; self.document.nodes.len()];
            for child in self.document.nodes.iter().flat_map(|n| &n.children) {
                if let Some(held) = held.get_mut(*child) {
                    *held = true;
                }
            }
            return Ok((0..held.len()).filter(|n| held.get(*n) == Some(&false)).collect());
        }
        let number = self.document.scene.unwrap_or(0);
        let Some(scene) = scenes.get(number) else {
            return Err(MeshFault::whole(format_args!("scene {number} is not there"), AGAIN));
        };
        if scenes.len() > 1 {
            notes.push(format!("scene {number} of {} is read", scenes.len()));
        }
        Ok(scene.nodes.clone())
    }

    /// A mesh in the node's frame, metres.
    fn shape(&self, number: usize) -> Result<Shape, MeshFault> {
        let place = format!("mesh {number}");
        let Some(mesh) = self.document.meshes.get(number) else {
            return Err(MeshFault::at(place, "it is not there", AGAIN));
        };
        if mesh.weights.iter().any(|w| *w != 0.0) {
            return Err(MeshFault::at(place, "it is bent by morph targets", AGAIN));
        }
        let mut points = Vec::new();
        let mut triangles = Vec::new();
        let mut shape = Shape::default();
        let mut colours = Vec::new();
        // Positions that several pieces share are taken once.
        let mut taken: Vec<(usize, usize)> = Vec::new();
        for (piece, primitive) in mesh.primitives.iter().enumerate() {
            let told = |what: String| {
                MeshFault::at(format_args!("mesh {number}, piece {piece}"), what, AGAIN)
            };
            if primitive.mode < 4 {
                shape.left_out += 1;
                continue;
            }
            let Some(position) = primitive.attributes.position else {
                return Err(told("it has no positions".to_owned()));
            };
            let known = taken.iter().find(|(accessor, _)| *accessor == position);
            let (first, count) = if let Some((_, first)) = known {
                (*first, self.accessor(position).map_or(0, |a| a.count))
            } else {
                let first = points.len();
                points.extend(self.positions(position).map_err(told)?);
                taken.push((position, first));
                (first, (points.len() - first) as u64)
            };
            let corners = self.corners(primitive, count).map_err(told)?;
            let first = u32::try_from(first).unwrap_or(u32::MAX);
            let moved = |t: [u32; 3]| t.map(|c| c.saturating_add(first));
            triangles.extend(corners.into_iter().map(moved));
            if triangles.len() as u64 > MOST_TRIANGLES {
                return Err(told(format!("the mesh has more than {MOST_TRIANGLES} triangles")));
            }
            colours.push(primitive.material.and_then(|m| self.colour(m)));
        }
        let mut pool = Pool::new(&points);
        shape.mesh = pool
            .mesh(&triangles)
            .ok_or_else(|| MeshFault::at(place, "more vertices than can be numbered", COARSER))?;
        shape.colour = match colours.split_first() {
            Some((first, others)) if others.iter().all(|c| c == first) => *first,
            _ => None,
        };
        Ok(shape)
    }

    fn accessor(&self, number: usize) -> Option<&Accessor> {
        self.document.accessors.get(number)
    }

    /// A material's base colour.
    fn colour(&self, material: usize) -> Option<[u8; 4]> {
        let pbr = self.document.materials.get(material)?.pbr_metallic_roughness.as_ref()?;
        let [red, green, blue, alpha] = pbr.base_color_factor?;
        Some([curved(red), curved(green), curved(blue), share(alpha)])
    }

    fn positions(&self, number: usize) -> Result<Vec<Point3<f64>>, String> {
        let accessor = self.accessor(number).ok_or(format!("accessor {number} is not there"))?;
        if accessor.shape != "VEC3" {
            return Err(format!(
                "accessor {number} is {}, not VEC3",
                shown(accessor.shape.as_bytes())
            ));
        }
        let kind = Kind::of(accessor.component_type).filter(|kind| *kind != Kind::U32);
        let kind = kind.ok_or(format!("accessor {number} holds no positions"))?;
        let values = self.values::<3>(number, accessor, kind)?;
        // Whole numbers as shares of one; the least of them is one more than that below.
        let share = |c: f64| if accessor.normalized { (c / kind.normal()).max(-1.0) } else { c };
        let point = |v: [f64; 3]| Point3::from(v.map(share));
        let points: Vec<_> = values.into_iter().map(point).collect();
        if let Some(far) = points.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
            return Err(format!(
                "accessor {number}, value {far}: a coordinate that is not a finite number"
            ));
        }
        Ok(points)
    }

    /// The triangles of a piece over its own positions, of which there are `count`.
    fn corners(&self, primitive: &Primitive, count: u64) -> Result<Vec<[u32; 3]>, String> {
        let listed: Vec<u32> = match primitive.indices {
            None => (0..u32::try_from(count).map_err(|_| "too many positions")?).collect(),
            Some(number) => {
                let accessor =
                    self.accessor(number).ok_or(format!("accessor {number} is not there"))?;
                let kind = Kind::of(accessor.component_type)
                    .filter(|kind| matches!(kind, Kind::U8 | Kind::U16 | Kind::U32));
                let kind = kind.filter(|_| accessor.shape == "SCALAR");
                let kind = kind.ok_or(format!("accessor {number} holds no indices"))?;
                let values = self.values::<1>(number, accessor, kind)?;
                #[allow(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a u32 before"
                )]
                values.into_iter().map(|[v]| v as u32).collect()
            }
        };
        if let Some(far) = listed.iter().find(|c| u64::from(**c) >= count) {
            return Err(format!("vertex {far} is not there, {count} are, from 0"));
        }
        let triangles = match primitive.mode {
            4 => {
                let (triangles, rest) = listed.as_chunks::<3>();
                if !rest.is_empty() {
                    return Err(format!("{} corners are no whole triangles", listed.len()));
                }
                triangles.to_vec()
            }
            5 => (0..)
                .zip(listed.windows(3))
                .filter_map(|(i, w)| match *w {
                    [a, b, c] if i % 2 == 0 => Some([a, b, c]),
                    [a, b, c] => Some([b, a, c]),
                    _ => None,
                })
                .collect(),
            6 => {
                let first = listed.first().copied().unwrap_or(0);
                let others = listed.get(1..).unwrap_or(&[]).windows(2);
                others
                    .filter_map(|w| if let [b, c] = *w { Some([first, b, c]) } else { None })
                    .collect()
            }
            mode => return Err(format!("{mode} is no mode of a piece")),
        };
        Ok(triangles)
    }

    /// The bytes of a view, from an offset in it.
    fn view(&self, number: usize, offset: u64) -> Result<(&[u8], Option<u64>), String> {
        let missing = || format!("buffer view {number} is not there, or longer than its buffer");
        let view = self.document.buffer_views.get(number).ok_or_else(missing)?;
        let buffer = self.buffers.get(view.buffer).ok_or_else(missing)?;
        let slice = || {
            let start = usize::try_from(view.byte_offset).ok()?;
            let end = start.checked_add(usize::try_from(view.byte_length).ok()?)?;
            buffer.get(start..end)?.get(usize::try_from(offset).ok()?..)
        };
        Ok((slice().ok_or_else(missing)?, view.byte_stride))
    }

    /// Values of an accessor, `N` components each.
    fn values<const N: usize>(
        &self,
        number: usize,
        accessor: &Accessor,
        kind: Kind,
    ) -> Result<Vec<[f64; N]>, String> {
        let told = |what: String| format!("accessor {number}: {what}");
        let mut values = if let Some(view) = accessor.buffer_view {
            let (bytes, stride) = self.view(view, accessor.byte_offset).map_err(told)?;
            listed::<N>(bytes, stride, accessor.count, kind).map_err(told)?
        } else {
            // Nothing but zeros: no more of them than there are bytes at all.
            let held: u64 = self.buffers.iter().map(|b| b.len() as u64).sum();
            let count = usize::try_from(accessor.count).ok().filter(|_| accessor.count <= held);
            vec![
                [0.0; N];
                count.ok_or_else(|| told(format!("{} values of nothing", accessor.count)))?
            ]
        };
        if let Some(sparse) = &accessor.sparse {
            let at = Kind::of(sparse.indices.component_type)
                .filter(|kind| matches!(kind, Kind::U8 | Kind::U16 | Kind::U32))
                .ok_or_else(|| told("its sparse indices are no whole numbers".to_owned()))?;
            let (bytes, _) =
                self.view(sparse.indices.buffer_view, sparse.indices.byte_offset).map_err(told)?;
            let indices = listed::<1>(bytes, None, sparse.count, at).map_err(told)?;
            let (bytes, _) =
                self.view(sparse.values.buffer_view, sparse.values.byte_offset).map_err(told)?;
            let replaced = listed::<N>(bytes, None, sparse.count, kind).map_err(told)?;
            for ([index], value) in indices.into_iter().zip(replaced) {
                #[allow(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a u32 before"
                )]
                let slot = values.get_mut(index as usize);
                *slot.ok_or_else(|| told(format!("sparse value {index} is not there")))? = value;
            }
        }
        Ok(values)
    }
}

/// A mesh in the node's frame, metres.
#[derive(Default)]
struct Shape {
    mesh: solids::Mesh,
    colour: Option<[u8; 4]>,
    /// Pieces that have no surface.
    left_out: u64,
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    I8,
    U8,
    I16,
    U16,
    U32,
    F32,
}

impl Kind {
    fn of(code: u32) -> Option<Self> {
        Some(match code {
            5120 => Self::I8,
            5121 => Self::U8,
            5122 => Self::I16,
            5123 => Self::U16,
            5125 => Self::U32,
            5126 => Self::F32,
            _ => return None,
        })
    }

    const fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::U32 | Self::F32 => 4,
        }
    }

    /// What stands for one where whole numbers are shares.
    const fn normal(self) -> f64 {
        match self {
            Self::I8 => 127.0,
            Self::U8 => 255.0,
            Self::I16 => 32_767.0,
            Self::U16 => 65_535.0,
            Self::U32 | Self::F32 => 1.0,
        }
    }

    fn value(self, bytes: &[u8]) -> f64 {
        let first = |n: usize| bytes.get(..n).unwrap_or(&[]);
        match self {
            Self::I8 => f64::from(i8::from_le_bytes(first(1).try_into().unwrap_or_default())),
            Self::U8 => f64::from(u8::from_le_bytes(first(1).try_into().unwrap_or_default())),
            Self::I16 => f64::from(i16::from_le_bytes(first(2).try_into().unwrap_or_default())),
            Self::U16 => f64::from(u16::from_le_bytes(first(2).try_into().unwrap_or_default())),
            Self::U32 => f64::from(u32::from_le_bytes(first(4).try_into().unwrap_or_default())),
            Self::F32 => f64::from(f32::from_le_bytes(first(4).try_into().unwrap_or_default())),
        }
    }
}

/// Values that stand one after the other, or a stride apart.
fn listed<const N: usize>(
    bytes: &[u8],
    stride: Option<u64>,
    count: u64,
    kind: Kind,
) -> Result<Vec<[f64; N]>, String> {
    let size = (N * kind.size()) as u64;
    let stride = stride.unwrap_or(size);
    if stride < size {
        return Err(format!("values of {size} bytes stand {stride} bytes apart"));
    }
    let needed =
        count.checked_sub(1).map_or(Some(0), |gaps| gaps.checked_mul(stride)?.checked_add(size));
    if needed.is_none_or(|needed| needed > bytes.len() as u64) {
        return Err(format!("{count} values are promised, too many for {} bytes", bytes.len()));
    }
    let stride = usize::try_from(stride).map_err(|_| "a stride beyond all bounds")?;
    let of = |value: &[u8]| {
        let mut components = [0.0; N];
        for (component, bytes) in components.iter_mut().zip(value.chunks_exact(kind.size())) {
            *component = kind.value(bytes);
        }
        components
    };
    // The last value may end before its stride does.
    let count = usize::try_from(count).map_err(|_| "too many values")?;
    Ok(bytes.chunks(stride).take(count).map(of).collect())
}

/// The parent's frame from the node's.
fn matrix(node: &Node) -> Result<Matrix4<f64>, &'static str> {
    if let Some(matrix) = &node.matrix {
        let matrix = Matrix4::from_column_slice(matrix.as_slice());
        if (matrix.row(3) - Matrix4::identity().row(3)).iter().any(|c| *c != 0.0) {
            return Err("its matrix does more than move, turn and stretch");
        }
        return Ok(matrix);
    }
    let [x, y, z, w] = node.rotation.unwrap_or([0.0, 0.0, 0.0, 1.0]);
    let rotation = Quaternion::new(w, x, y, z);
    // Written as f32, a unit quaternion is one to seven digits; tools that round more are met too.
    if (rotation.norm() - 1.0).abs() > 1e-2 {
        return Err("its rotation is no unit quaternion");
    }
    let shift = Vector3::from(node.translation.unwrap_or_default());
    let scale = Vector3::from(node.scale.unwrap_or([1.0; 3]));
    Ok(Matrix4::new_translation(&shift)
        * UnitQuaternion::new_normalize(rotation).to_homogeneous()
        * Matrix4::new_nonuniform_scaling(&scale))
}

/// The names of the nodes that hold a node, outermost first; those without a name are left out, and
/// beyond a depth that no assembly has, the outer ones.
fn within(nodes: &[Node], parents: &[Option<usize>], of: usize) -> Vec<String> {
    let up = |at: usize| parents.get(at).copied().flatten();
    let mut names: Vec<String> = std::iter::successors(up(of), |at| up(*at))
        .take(64)
        .filter_map(|at| nodes.get(at)?.name.as_ref())
        .map(|n| name(n.as_bytes()))
        .filter(|n| !n.is_empty())
        .collect();
    names.reverse();
    names
}

/// A share of full as a byte.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 255")]
fn share(of: f64) -> u8 {
    (of.clamp(0.0, 1.0) * 255.0).round() as u8
}

/// A share of light as sRGB writes it (IEC 61966-2-1).
fn curved(light: f64) -> u8 {
    share(if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 })
}
