//! A display list as binary glTF 2.0 (ISO/IEC 12113): named parts in their places, and the
//! installation as an animation.
//!
//! glTF is in metres with y up: the root node turns and scales the plate frame, so that everything
//! under it is in millimetres of that. What is not there yet, or no longer, has no size meanwhile.

use crate::list::{DisplayList, Item};
use crate::marks::Mark;
use crate::palette::{Colour, INK, Role, STRONG};
use crate::shading::{Surface, surface};
use crate::timeline::{Key, Stage};
use crate::view::View as Standing;
use gltf::binary::{Glb, Header};
use gltf::json::accessor::{ComponentType, GenericComponentType, Type};
use gltf::json::animation::{Channel, Interpolation, Property, Sampler, Target};
use gltf::json::buffer::{Stride, Target as Use, View};
use gltf::json::camera::{Perspective, Type as Projection};
use gltf::json::extras::RawValue;
use gltf::json::material::{AlphaMode, PbrBaseColorFactor, PbrMetallicRoughness, StrengthFactor};
use gltf::json::mesh::{Mode, Primitive, Semantic};
use gltf::json::scene::UnitQuaternion;
use gltf::json::validation::Checked;
use gltf::json::{
    Accessor, Animation, Asset, Buffer, Camera, Index, Material, Mesh, Node, Root, Scene, Value,
};
use nalgebra::{Isometry3, UnitQuaternion as UnitQuat, Vector3};
use serde_json::json;
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::f32::consts::FRAC_1_SQRT_2;

/// Why a list cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum Unwritable {
    /// The container counts its bytes with 32 bits.
    #[error("the scene takes {0} bytes, and a glTF container holds less than 4 294 967 296")]
    TooLarge(usize),
    /// The written form could not be made.
    #[error("{0}")]
    Form(#[from] serde_json::Error),
    /// The container could not be made.
    #[error("{0}")]
    Container(#[from] gltf::Error),
}

/// The bytes of a `.glb` file. `program` is the program's name and version; `caution` goes into the
/// scene beside what it shows.
pub fn glb(list: &DisplayList<'_>, program: &str, caution: &str) -> Result<Vec<u8>, Unwritable> {
    let mut writer = Writer::new(list, program, caution)?;
    let of = |is_rig: bool| {
        list.items.iter().filter(move |i| matches!(i.part, fitup::Part::Rig(_)) == is_rig)
    };
    let car = of(false).map(|item| writer.item(list, item)).collect();
    let rig = of(true).map(|item| writer.item(list, item)).collect();
    let figures = list.marks.iter().map(|mark| writer.mark(list, mark)).collect();
    let groups = [("car top", car), ("rig", rig), ("figures", figures)];
    let groups = groups.into_iter().filter_map(|(name, of)| writer.group(name, of)).collect();
    writer.finish(list, groups)
}

struct Writer {
    root: Root,
    bytes: Vec<u8>,
    materials: HashMap<&'static str, Index<Material>>,
    meshes: HashMap<(usize, Role), Option<Index<Mesh>>>,
    channels: Vec<Channel>,
    samplers: Vec<Sampler>,
}

impl Writer {
    fn new(list: &DisplayList<'_>, program: &str, caution: &str) -> Result<Self, Unwritable> {
        let about = json!({
            "case": list.title,
            "fitting": list.fitting,
            "cup": list.cup,
            "verdict": list.verdict,
            "caution": caution,
        });
        let asset = Asset {
            generator: Some(program.into()),
            extras: Some(raw(&about)?),
            ..Asset::default()
        };
        Ok(Self {
            root: Root { asset, ..Root::default() },
            bytes: Vec::new(),
            materials: HashMap::new(),
            meshes: HashMap::new(),
            channels: Vec::new(),
            samplers: Vec::new(),
        })
    }

    /// A node for some others; `None` for none.
    fn group(&mut self, name: &str, children: Vec<Index<Node>>) -> Option<Index<Node>> {
        let children = (!children.is_empty()).then_some(children)?;
        let (name, children) = (Some(name.into()), Some(children));
        Some(self.root.push(Node { name, children, ..Node::default() }))
    }

    fn item(&mut self, list: &DisplayList<'_>, item: &Item) -> Index<Node> {
        let mesh = self.mesh(list, item);
        let goes = item.track.goes.is_some();
        let node = self.root.push(Node {
            name: Some(item.name.clone()),
            mesh,
            translation: Some(translation(&item.place)),
            rotation: Some(UnitQuaternion(rotation(&item.place))),
            scale: goes.then_some([0.0; 3]),
            ..Node::default()
        });
        let keys = &item.track.keys;
        if !keys.is_empty() {
            let times = self.times(keys.iter().map(|key| key.at));
            let pose = |key: &Key| key.plate_from_item;
            let moves: Vec<[f32; 3]> = keys.iter().map(|k| translation(&pose(k))).collect();
            let turns = near_by(keys.iter().map(|k| rotation(&pose(k))));
            let moves = self.floats(&moves, Type::Vec3, None, None);
            let turns = self.floats(&turns, Type::Vec4, None, None);
            self.channel(node, Property::Translation, Interpolation::Linear, [times, moves]);
            self.channel(node, Property::Rotation, Interpolation::Linear, [times, turns]);
        }
        match item.track.goes {
            Some(goes) => self.sizes(node, goes, [[1.0; 3], [0.0; 3]]),
            None => self.comes(node, item.track.comes),
        }
        node
    }

    /// The triangles of an item with its colour; `None` for a body without any.
    fn mesh(&mut self, list: &DisplayList<'_>, item: &Item) -> Option<Index<Mesh>> {
        let key = (item.mesh, item.role);
        if let Some(known) = self.meshes.get(&key) {
            return *known;
        }
        let seen = list.meshes.get(item.mesh).map(|mesh| surface(mesh)).unwrap_or_default();
        let mesh = (!seen.triangles.is_empty()).then(|| {
            let primitive = self.primitive(&seen, item.role);
            self.root.push(named_mesh(&item.name, primitive))
        });
        self.meshes.insert(key, mesh);
        mesh
    }

    fn primitive(&mut self, seen: &Surface, role: Role) -> Primitive {
        let position = self.positions(&seen.positions);
        let normal = self.floats(&seen.normals, Type::Vec3, Some(Use::ArrayBuffer), None);
        let start = self.bytes.len();
        for corner in seen.triangles.iter().flatten() {
            self.bytes.extend(corner.to_le_bytes());
        }
        let corners = self.view(start, Some(Use::ElementArrayBuffer));
        let indices = self.root.push(Accessor {
            component_type: Checked::Valid(GenericComponentType(ComponentType::U32)),
            ..accessor(corners, 3 * seen.triangles.len(), Type::Scalar, None)
        });
        let attributes = BTreeMap::from([
            (Checked::Valid(Semantic::Positions), position),
            (Checked::Valid(Semantic::Normals), normal),
        ]);
        let material = self.material(role.word(), role.colour());
        Primitive { indices: Some(indices), ..primitive(attributes, material, Mode::Triangles) }
    }

    /// Points with their bounds.
    fn positions(&mut self, points: &[[f32; 3]]) -> Index<Accessor> {
        let bounds = bounds(points).map(|b| json!(b));
        self.floats(points, Type::Vec3, Some(Use::ArrayBuffer), Some(bounds))
    }

    fn material(&mut self, name: &'static str, colour: Colour) -> Index<Material> {
        let see_through = colour.opacity < u8::MAX;
        let root = &mut self.root;
        *self.materials.entry(name).or_insert_with(|| {
            root.push(Material {
                name: Some(name.into()),
                alpha_mode: Checked::Valid(if see_through {
                    AlphaMode::Blend
                } else {
                    AlphaMode::Opaque
                }),
                pbr_metallic_roughness: PbrMetallicRoughness {
                    base_color_factor: PbrBaseColorFactor(colour.linear().map(single)),
                    metallic_factor: StrengthFactor(0.0),
                    roughness_factor: StrengthFactor(0.7),
                    ..PbrMetallicRoughness::default()
                },
                ..Material::default()
            })
        })
    }

    /// A figure as a line between its two points, there when all is done.
    fn mark(&mut self, list: &DisplayList<'_>, mark: &Mark) -> Index<Node> {
        let ends = mark.ends.each_ref().map(|p| [p.x, p.y, p.z].map(single));
        let position = self.positions(&ends);
        let (name, colour) = if mark.is_strong { ("limit", STRONG) } else { ("figure", INK) };
        let attributes = BTreeMap::from([(Checked::Valid(Semantic::Positions), position)]);
        let material = self.material(name, colour);
        let name = format!("{}: {}", mark.check, mark.sentence);
        let line = named_mesh(&name, primitive(attributes, material, Mode::Lines));
        let mesh = Some(self.root.push(line));
        let node = self.root.push(Node { name: Some(name), mesh, ..Node::default() });
        self.comes(node, list.lasts());
        node
    }

    /// Has no size until then.
    fn comes(&mut self, node: Index<Node>, at: f64) {
        if at > 0.0 {
            self.sizes(node, at, [[0.0; 3], [1.0; 3]]);
        }
    }

    fn sizes(&mut self, node: Index<Node>, at: f64, sizes: [[f32; 3]; 2]) {
        let times = self.times([0.0, at].into_iter());
        let sizes = self.floats(&sizes, Type::Vec3, None, None);
        self.channel(node, Property::Scale, Interpolation::Step, [times, sizes]);
    }

    /// A standing view, beside the plate frame's node: a camera has no scale.
    fn camera(&mut self, list: &DisplayList<'_>, view: Standing) -> Index<Node> {
        /// For a picture in the proportions of most screens.
        const ASPECT: f64 = 1.6;
        /// What is nearer than this is not drawn, metres.
        const NEAR: f32 = 0.01;
        let framing = list.framing(view, ASPECT);
        let camera = self.root.push(Camera {
            name: Some(view.word().into()),
            orthographic: None,
            perspective: Some(Perspective {
                aspect_ratio: None,
                yfov: single(framing.angle),
                zfar: None,
                znear: NEAR,
                extensions: None,
                extras: None,
            }),
            type_: Checked::Valid(Projection::Perspective),
            extensions: None,
            extras: None,
        });
        // Z up to y up, millimetres to metres.
        let turned = |v: Vector3<f64>| Vector3::new(v.x, v.z, -v.y);
        let [eye, target] = [framing.eye, framing.target].map(|p| turned(p.coords) * 0.001);
        let up = turned(framing.up.into_inner());
        // A camera looks along its z, backward.
        let turn = UnitQuat::face_towards(&(eye - target), &up);
        let place = Isometry3::from_parts(eye.into(), turn);
        self.root.push(Node {
            name: Some(format!("view {}", view.word())),
            camera: Some(camera),
            translation: Some(translation(&place)),
            rotation: Some(UnitQuaternion(rotation(&place))),
            ..Node::default()
        })
    }

    fn channel(
        &mut self,
        node: Index<Node>,
        path: Property,
        interpolation: Interpolation,
        [input, output]: [Index<Accessor>; 2],
    ) {
        let interpolation = Checked::Valid(interpolation);
        let sampler = Sampler { input, output, interpolation, extensions: None, extras: None };
        let sampler = Index::push(&mut self.samplers, sampler);
        let path = Checked::Valid(path);
        let target = Target { node, path, extensions: None, extras: None };
        self.channels.push(Channel { sampler, target, extensions: None, extras: None });
    }

    /// Times of keys, ascending, with their bounds.
    fn times(&mut self, times: impl Iterator<Item = f64>) -> Index<Accessor> {
        let times: Vec<[f32; 1]> = times.map(|t| [single(t)]).collect();
        let bounds = match (times.first(), times.last()) {
            (Some(first), Some(last)) => Some([json!(first), json!(last)]),
            _ => None,
        };
        self.floats(&times, Type::Scalar, None, bounds)
    }

    /// Appends values; `target` is what corners of triangles are for.
    fn floats<const N: usize>(
        &mut self,
        values: &[[f32; N]],
        of: Type,
        target: Option<Use>,
        bounds: Option<[Value; 2]>,
    ) -> Index<Accessor> {
        let start = self.bytes.len();
        for value in values.iter().flatten() {
            self.bytes.extend(value.to_le_bytes());
        }
        let view = self.view(start, target);
        self.root.push(accessor(view, values.len(), of, bounds))
    }

    /// The bytes from `start` on.
    fn view(&mut self, start: usize, target: Option<Use>) -> Index<View> {
        let is_corner = matches!(target, Some(Use::ArrayBuffer));
        self.root.push(View {
            buffer: Index::new(0),
            byte_length: (self.bytes.len() - start).into(),
            byte_offset: Some(start.into()),
            // Three numbers of four bytes.
            byte_stride: is_corner.then_some(Stride(12)),
            name: None,
            target: target.map(Checked::Valid),
            extensions: None,
            extras: None,
        })
    }

    fn finish(
        mut self,
        list: &DisplayList<'_>,
        groups: Vec<Index<Node>>,
    ) -> Result<Vec<u8>, Unwritable> {
        /// Headers and padding take less than this.
        const AROUND: usize = 64;
        // Metres, and z up to y up: a quarter turn about x.
        let whole = self.root.push(Node {
            name: Some(format!("{}, {}", list.title, list.fitting)),
            children: (!groups.is_empty()).then_some(groups),
            rotation: Some(UnitQuaternion([-FRAC_1_SQRT_2, 0.0, 0.0, FRAC_1_SQRT_2])),
            scale: Some([0.001; 3]),
            ..Node::default()
        });
        let mut nodes = vec![whole];
        nodes.extend(Standing::ALL.map(|view| self.camera(list, view)));
        let scene = self.root.push(Scene {
            name: Some(list.fitting.clone()),
            nodes,
            extensions: None,
            extras: None,
        });
        self.root.scene = Some(scene);
        if !self.channels.is_empty() {
            let stage = |s: &Stage| json!({ "name": s.name, "from_s": s.from, "to_s": s.to });
            let stages: Vec<Value> = list.stages.iter().map(stage).collect();
            self.root.push(Animation {
                name: Some("installation".into()),
                channels: self.channels,
                samplers: self.samplers,
                extensions: None,
                extras: Some(raw(&json!({ "stages": stages }))?),
            });
        }
        if !self.bytes.is_empty() {
            self.root.push(Buffer {
                byte_length: self.bytes.len().into(),
                name: None,
                uri: None,
                extensions: None,
                extras: None,
            });
        }
        let json = self.root.to_vec()?;
        let bytes = json.len().saturating_add(self.bytes.len()).saturating_add(AROUND);
        if u32::try_from(bytes).is_err() {
            return Err(Unwritable::TooLarge(bytes));
        }
        // The writer works the length out.
        let header = Header { magic: *b"glTF", version: 2, length: 0 };
        let bin = (!self.bytes.is_empty()).then_some(Cow::Owned(self.bytes));
        Ok(Glb { header, json: Cow::Owned(json), bin }.to_vec()?)
    }
}

fn accessor(view: Index<View>, count: usize, of: Type, bounds: Option<[Value; 2]>) -> Accessor {
    let (min, max) = bounds.map(|[min, max]| (min, max)).unzip();
    Accessor {
        buffer_view: Some(view),
        byte_offset: None,
        count: count.into(),
        component_type: Checked::Valid(GenericComponentType(ComponentType::F32)),
        type_: Checked::Valid(of),
        min,
        max,
        name: None,
        normalized: false,
        sparse: None,
        extensions: None,
        extras: None,
    }
}

fn primitive(
    attributes: BTreeMap<Checked<Semantic>, Index<Accessor>>,
    material: Index<Material>,
    mode: Mode,
) -> Primitive {
    Primitive {
        attributes,
        indices: None,
        material: Some(material),
        mode: Checked::Valid(mode),
        extensions: None,
        extras: None,
        targets: None,
    }
}

fn named_mesh(name: &str, primitive: Primitive) -> Mesh {
    Mesh {
        name: Some(name.into()),
        primitives: vec![primitive],
        extensions: None,
        extras: None,
        weights: None,
    }
}

/// Least and greatest of each coordinate.
fn bounds(points: &[[f32; 3]]) -> [[f32; 3]; 2] {
    [f32::min, f32::max].map(|pick| {
        let of = |axis: usize| {
            let all = points.iter().filter_map(|p| p.get(axis).copied());
            all.reduce(pick).unwrap_or(0.0)
        };
        [of(0), of(1), of(2)]
    })
}

fn raw(value: &Value) -> Result<Box<RawValue>, serde_json::Error> {
    serde_json::value::to_raw_value(value)
}

fn translation(pose: &Isometry3<f64>) -> [f32; 3] {
    let [x, y, z] = pose.translation.vector.into();
    [x, y, z].map(single)
}

/// Imaginary parts and then the real one.
fn rotation(pose: &Isometry3<f64>) -> [f32; 4] {
    let [i, j, k, w] = pose.rotation.coords.into();
    [i, j, k, w].map(single)
}

/// The same turns, each with the sign that goes on from the one before.
fn near_by(turns: impl Iterator<Item = [f32; 4]>) -> Vec<[f32; 4]> {
    let mut all: Vec<[f32; 4]> = Vec::new();
    for turn in turns {
        let along: f32 = all.last().map_or(1.0, |l| l.iter().zip(&turn).map(|(a, b)| a * b).sum());
        all.push(if along < 0.0 { turn.map(|x| -x) } else { turn });
    }
    all
}

#[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
fn single(x: f64) -> f32 {
    x as f32
}
