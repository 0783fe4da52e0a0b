//! A display list in Bevy's world: faces and edges of every item, dressed as they are looked at.
//!
//! The window and the pictures both spawn with [`spawn`] and change what is seen through [`Look`].

mod outline;
mod skin;

use crate::eye::{point, single};
use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use display::{
    Colour, DisplayList, INK, Interference, Item, Plane, Role, STRONG, Shown, Surface, surface,
};
use nalgebra::{Isometry3, Point3};
use skin::{Ink, LEFT, Layer, Line, OTHER, PLANES, Paint, Pen, RIGHT, SIDE, Skin};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};

/// What is behind everything: paper.
pub(crate) const PAPER: Colour = Colour { rgb: [247, 248, 249], opacity: 255 };
/// From one line of a hatching to the next, in widths of an edge.
const HATCH: f32 = 6.0;
/// A ghost's opacity.
const GHOST: u8 = 46;
/// A ghost's edges.
const FAINT: Colour = Colour { rgb: [120, 126, 132], opacity: 255 };

/// By how many planes may be cut at once.
pub(crate) const MOST_CUTS: usize = PLANES;

/// Faces, edges, and what dresses them.
pub(crate) struct ScenePlugin;

impl Plugin for ScenePlugin {
    fn build(&self, app: &mut App) {
        skin::add_to(app);
        app.init_resource::<Wardrobe>()
            .init_resource::<Made>()
            .init_resource::<Look>()
            .init_resource::<Cast>()
            .add_systems(Update, dress.run_if(resource_changed::<Look>));
    }
}

/// How the scene is looked at; nothing of it is known to the display list.
#[derive(Resource, Debug, Clone, PartialEq)]
pub(crate) struct Look {
    /// When, seconds; `None` when all is done.
    pub(crate) at: Option<f64>,
    /// By what is cut; of more than [`MOST_CUTS`] the last are left out.
    pub(crate) cuts: Vec<Plane>,
    /// Width of an edge, pixels.
    pub(crate) line: f32,
}

impl Default for Look {
    fn default() -> Self {
        Self { at: None, cuts: Vec::new(), line: 1.25 }
    }
}

/// How an item is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Presence {
    /// As it is.
    Whole,
    /// Faintly: it has been taken off, or is asked for so.
    Ghost,
    /// It is not there.
    Absent,
}

impl Look {
    /// Where an item is and how.
    pub(crate) fn of(&self, item: &Item) -> (Presence, Isometry3<f64>) {
        let at = self.at.unwrap_or(f64::INFINITY);
        let pose = item.track.pose(at).unwrap_or(item.place);
        let is_off = item.track.goes.is_some_and(|goes| goes <= at);
        let is_there = item.track.is_there(at);
        let presence = match item.shown {
            Shown::Solid if is_there => Presence::Whole,
            Shown::Ghost | Shown::Solid if is_there || is_off => Presence::Ghost,
            Shown::Hidden | Shown::Ghost | Shown::Solid => Presence::Absent,
        };
        (presence, pose)
    }
}

/// The items of the list that is shown.
#[derive(Resource, Debug, Default)]
pub(crate) struct Cast(pub(crate) Vec<Item>);

/// An item in the world, by its place in [`Cast`].
#[derive(Component, Debug, Clone, Copy)]
pub(crate) struct Actor(pub(crate) usize);

/// What of an item an entity is.
#[derive(Component, Debug, Clone, Copy, PartialEq, Eq)]
enum Piece {
    Faces,
    /// The depth of faces through which one sees.
    Depth,
    Edges,
}

/// Everything that has been spawned, so that another list may take its place.
pub(crate) fn spawn(world: &mut World, list: &DisplayList<'_>) {
    let before: Vec<Entity> = world
        .query_filtered::<Entity, Or<(With<Actor>, With<CutPart>, With<Shared>)>>()
        .iter(world)
        .collect();
    for entity in before {
        world.despawn(entity);
    }
    let before = std::mem::take(&mut *world.resource_mut::<Made>());
    let mut made = Made::default();
    let marks: Vec<u64> = list.meshes.iter().map(|mesh| mark(mesh)).collect();
    for (index, item) in list.items.iter().enumerate() {
        let Some((mesh, mark)) = list.meshes.get(item.mesh).zip(marks.get(item.mesh)) else {
            continue;
        };
        let key = (*mark, item.role != Role::Unseen);
        let make = || {
            let surface = surface(mesh);
            let edges = outline::edges(&surface, key.1);
            let mut meshes = world.resource_mut::<Assets<Mesh>>();
            [meshes.add(faces_mesh(surface)), meshes.add(edges_mesh(&edges))]
        };
        let known = || before.0.get(&key).cloned();
        let [faces, edges] =
            made.0.entry(key).or_insert_with(|| known().unwrap_or_else(make)).clone();
        world.spawn((Actor(index), Transform::default(), Visibility::Hidden)).with_children(
            |parts| {
                parts.spawn((Piece::Faces, Mesh3d(faces.clone()), Visibility::Inherited));
                parts.spawn((Piece::Depth, Mesh3d(faces), Visibility::Hidden));
                parts.spawn((Piece::Edges, Mesh3d(edges), Visibility::Inherited));
            },
        );
    }
    world.insert_resource(made);
    world.insert_resource(Cast(list.items.clone()));
    world.resource_mut::<Look>().set_changed();
}

/// Faces and edges of the bodies that are spawned, by their marks and by whether they were seen: what is
/// spawned again is not made again.
#[derive(Resource, Debug, Default)]
struct Made(HashMap<(u64, bool), [Handle<Mesh>; 2]>);

/// The same for the same mesh.
fn mark(mesh: &solids::Mesh) -> u64 {
    let mut hasher = DefaultHasher::new();
    for point in &mesh.vertices {
        point.coords.map(f64::to_bits).data.0.hash(&mut hasher);
    }
    mesh.triangles.hash(&mut hasher);
    hasher.finish()
}

fn faces_mesh(surface: Surface) -> Mesh {
    let indices = surface.triangles.into_iter().flatten().collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, surface.positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, surface.normals)
        .with_inserted_indices(Indices::U32(indices))
}

/// Two corners at each end of an edge, which the shader draws apart.
fn edges_mesh(edges: &[outline::Edge]) -> Mesh {
    let (mut here, mut there, mut left, mut right, mut side, mut indices) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (edge, first) in edges.iter().zip((0_u32..).step_by(4)) {
        let [from, to] = edge.ends;
        // Seen from the other end the sides change places.
        for (end, other, to_side) in
            [(from, to, 1.0_f32), (from, to, -1.0), (to, from, -1.0), (to, from, 1.0)]
        {
            here.push(end);
            there.push(other);
            left.push(edge.faces[0]);
            right.push(edge.faces[1]);
            side.push(to_side);
        }
        indices.extend([0, 1, 2, 2, 1, 3].map(|corner| first + corner));
    }
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, here)
        .with_inserted_attribute(OTHER, there)
        .with_inserted_attribute(LEFT, left)
        .with_inserted_attribute(RIGHT, right)
        .with_inserted_attribute(SIDE, side)
        .with_inserted_indices(Indices::U32(indices))
}

/// Skins and pens in use; made anew when what is cut away changes.
#[derive(Resource, Debug, Default)]
struct Wardrobe {
    made_for: Option<(Vec<Plane>, f32)>,
    skins: HashMap<(Role, Presence, bool), Handle<Skin>>,
    pens: HashMap<Presence, Handle<Pen>>,
}

impl Wardrobe {
    fn skin(
        &mut self,
        key: (Role, Presence, bool),
        cuts: &[Plane],
        skins: &mut Assets<Skin>,
    ) -> Handle<Skin> {
        let (role, presence, is_depth) = key;
        let mut made = || {
            let mut colour = role.colour();
            if presence == Presence::Ghost {
                colour.opacity = colour.opacity.min(GHOST);
            }
            let layer = if colour.opacity == u8::MAX {
                Layer::Opaque
            } else {
                Layer::Veil { number: layer(role, presence), is_depth }
            };
            let (planes, number) = planes(cuts);
            let flags = UVec4::new(number, 0, 0, 0);
            let paint = Paint { colour: linear(colour), hatch: Vec4::ZERO, planes, flags };
            skins.add(Skin { paint, layer })
        };
        self.skins.entry(key).or_insert_with(&mut made).clone()
    }

    fn pen(
        &mut self,
        presence: Presence,
        (cuts, width): (&[Plane], f32),
        pens: &mut Assets<Pen>,
    ) -> Handle<Pen> {
        let mut made = || {
            // What is not there is thinner, so that its many small edges do not look like a hatching.
            let (colour, dash, width) = match presence {
                Presence::Ghost => (FAINT, 6.0 * width, 0.7 * width),
                Presence::Whole | Presence::Absent => (INK, 0.0, width),
            };
            let (planes, number) = planes(cuts);
            let width = Vec4::new(width, dash, 1.5, 0.0);
            let flags = UVec4::new(number, 0, 0, 0);
            let line = Line { colour: linear(colour), planes, width, flags };
            pens.add(Pen { line, ink: Ink::Hidden })
        };
        self.pens.entry(presence).or_insert_with(&mut made).clone()
    }
}

/// Of what one sees through, the number of its layer, the innermost first.
const fn layer(role: Role, presence: Presence) -> u8 {
    match (role, presence) {
        (Role::Housing, _) => 3,
        (Role::Lid, _) => 4,
        (_, Presence::Ghost) => 2,
        _ => 1,
    }
}

fn planes(cuts: &[Plane]) -> ([Vec4; PLANES], u32) {
    let mut planes = [Vec4::ZERO; PLANES];
    let mut number = 0;
    for (plane, cut) in planes.iter_mut().zip(cuts) {
        let away = Point3::from(cut.normal.into_inner());
        *plane = point(&away).extend(single(cut.normal.dot(&cut.point.coords)));
        number += 1;
    }
    (planes, number)
}

pub(crate) fn linear(colour: Colour) -> Vec4 {
    Vec4::from_array(colour.linear().map(single))
}

/// A face or an outline where something is cut.
#[derive(Component, Debug, Clone, Copy)]
pub(crate) struct CutPart;

/// Spawns the faces and outlines of the cuts that [`Look`] asks for, in place of those before.
pub(crate) fn cut(world: &mut World, list: &DisplayList<'_>) {
    let before: Vec<Entity> = world.query_filtered::<Entity, With<CutPart>>().iter(world).collect();
    for entity in before {
        world.despawn(entity);
    }
    let look = world.resource::<Look>().clone();
    let at = look.at.unwrap_or_else(|| list.lasts());
    let (planes, count) = planes(&look.cuts);
    for (plane, number) in look.cuts.iter().zip(1..=count) {
        for face in list.cut(plane, at) {
            let Some(item) = list.items.get(face.item) else { continue };
            let is_faint = look.of(item).0 == Presence::Ghost;
            let lines = face.outlines.iter().flat_map(|line| {
                let closing = line.closed.then(|| line.points.first()).flatten();
                let next = line.points.iter().skip(1).chain(closing);
                line.points.iter().zip(next).map(|(a, b)| outline::Edge {
                    ends: [point(a).to_array(), point(b).to_array()],
                    faces: [[0.0; 3]; 2],
                })
            });
            let edges = edges_mesh(&lines.collect::<Vec<_>>());
            let (colour, width) = if is_faint { (FAINT, 1.0) } else { (INK, 1.8) };
            let pen = Pen {
                line: Line {
                    colour: linear(colour),
                    planes,
                    width: Vec4::new(width * look.line, 0.0, 1.5, 0.0),
                    flags: UVec4::new(count, number, 0, 0),
                },
                ink: Ink::Hidden,
            };
            let edges = world.resource_mut::<Assets<Mesh>>().add(edges);
            let pen = world.resource_mut::<Assets<Pen>>().add(pen);
            world.spawn((CutPart, Mesh3d(edges), MeshMaterial3d(pen)));
            let Some(fill) = face.fill.filter(|_| !is_faint) else { continue };
            let solid = Colour { opacity: u8::MAX, ..item.role.colour() };
            let [r, g, b, _] = linear(solid).to_array();
            // Half as bright again as the part's lines are dark: the face is cut, not seen.
            let hatch = (Vec3::new(r, g, b) * 0.35).extend(HATCH * look.line);
            let paint = Paint {
                colour: Vec3::new(r, g, b).lerp(Vec3::ONE, 0.25).extend(1.0),
                hatch,
                planes,
                flags: UVec4::new(count, 1, number, 0),
            };
            let fill = world.resource_mut::<Assets<Mesh>>().add(faces_mesh(surface(&fill)));
            let skin = Skin { paint, layer: Layer::Opaque };
            let skin = world.resource_mut::<Assets<Skin>>().add(skin);
            world.spawn((CutPart, Mesh3d(fill), MeshMaterial3d(skin)));
        }
    }
}

/// What two parts both fill.
#[derive(Component, Debug, Clone, Copy)]
pub(crate) struct Shared;

/// Spawns what parts run into each other by, in place of what was before: in the strong colour and
/// hatched, over everything that hides it.
pub(crate) fn overlaps(world: &mut World, interferences: &[&Interference]) {
    let before: Vec<Entity> = world.query_filtered::<Entity, With<Shared>>().iter(world).collect();
    for entity in before {
        world.despawn(entity);
    }
    let look = world.resource::<Look>().clone();
    let (planes, count) = planes(&look.cuts);
    let [r, g, b, _] = linear(STRONG).to_array();
    let strong = Vec3::new(r, g, b);
    let paint = Paint {
        colour: strong.lerp(Vec3::ONE, 0.45).extend(1.0),
        hatch: strong.extend(0.6 * HATCH * look.line),
        planes,
        flags: UVec4::new(count, 1, 0, 0),
    };
    for volume in interferences.iter().filter_map(|found| found.volume.as_ref()) {
        let surface = surface(volume);
        let edges = edges_mesh(&outline::edges(&surface, true));
        let pen = Pen {
            line: Line {
                colour: linear(STRONG),
                planes,
                width: Vec4::new(look.line, 0.0, 1.5, 0.0),
                flags: UVec4::new(count, 0, 0, 0),
            },
            ink: Ink::Over,
        };
        let mut meshes = world.resource_mut::<Assets<Mesh>>();
        let [faces, edges] = [meshes.add(faces_mesh(surface)), meshes.add(edges)];
        let skin = world.resource_mut::<Assets<Skin>>().add(Skin { paint, layer: Layer::Over });
        let pen = world.resource_mut::<Assets<Pen>>().add(pen);
        world.spawn((Shared, Mesh3d(faces), MeshMaterial3d(skin)));
        world.spawn((Shared, Mesh3d(edges), MeshMaterial3d(pen)));
    }
}

/// Puts every item where it is and gives it what it wears.
#[expect(clippy::needless_pass_by_value, reason = "Bevy hands resources over so")]
fn dress(
    look: Res<Look>,
    cast: Res<Cast>,
    mut wardrobe: ResMut<Wardrobe>,
    (mut skins, mut pens): (ResMut<Assets<Skin>>, ResMut<Assets<Pen>>),
    mut shown: Query<(&Actor, &Children, &mut Transform, &mut Visibility), Without<Piece>>,
    mut pieces: Query<(Entity, &Piece, &mut Visibility), Without<Actor>>,
    mut commands: Commands,
) {
    let wanted = Some((look.cuts.clone(), look.line));
    if wardrobe.made_for != wanted {
        *wardrobe = Wardrobe { made_for: wanted, ..Wardrobe::default() };
    }
    for (index, children, mut transform, mut visibility) in &mut shown {
        let Some(item) = cast.0.get(index.0) else { continue };
        let (presence, place) = look.of(item);
        visibility.set_if_neq(if presence == Presence::Absent {
            Visibility::Hidden
        } else {
            Visibility::Inherited
        });
        transform.set_if_neq(transform_of(&place));
        let is_veiled = item.role.colour().opacity < u8::MAX || presence == Presence::Ghost;
        for child in children {
            let Ok((entity, piece, mut visibility)) = pieces.get_mut(*child) else { continue };
            match piece {
                Piece::Faces | Piece::Depth => {
                    let is_depth = *piece == Piece::Depth;
                    let is_drawn = is_veiled || !is_depth;
                    visibility.set_if_neq(if is_drawn {
                        Visibility::Inherited
                    } else {
                        Visibility::Hidden
                    });
                    let key = (item.role, presence, is_depth);
                    let skin = wardrobe.skin(key, &look.cuts, &mut skins);
                    commands.entity(entity).insert(MeshMaterial3d(skin));
                }
                Piece::Edges => {
                    let pen = wardrobe.pen(presence, (&look.cuts, look.line), &mut pens);
                    commands.entity(entity).insert(MeshMaterial3d(pen));
                }
            }
        }
    }
}

fn transform_of(place: &Isometry3<f64>) -> Transform {
    let [x, y, z, w] = place.rotation.coords.map(single).data.0[0];
    Transform {
        translation: point(&Point3::from(place.translation.vector)),
        rotation: Quat::from_xyzw(x, y, z, w).normalize(),
        scale: Vec3::ONE,
    }
}
