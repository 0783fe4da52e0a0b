//! The items as bodies that are lit, and cut.

use crate::eye::{direction, point, single, world_from_plate};
use crate::look::{Look, Section};
use bevy::asset::{RenderAssetUsages, embedded_asset};
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::pbr::{ExtendedMaterial, MaterialExtension};
use bevy::prelude::*;
use bevy::render::render_resource::{AsBindGroup, ShaderType};
use bevy::shader::ShaderRef;
use display::{Colour, DisplayList, Role, Surface, surface};
use nalgebra::Isometry3;
use std::collections::HashMap;

/// What lies beyond a plane is not drawn, and the inside of a cut body is painted flat.
#[derive(Asset, AsBindGroup, TypePath, Clone, Debug)]
pub struct Cut {
    #[uniform(100)]
    cut: CutUniform,
}

#[derive(Clone, Copy, Debug, ShaderType)]
struct CutUniform {
    /// The plane's normal and its distance from the origin, world.
    plane: Vec4,
    /// The colour of the cut face.
    face: Vec4,
    /// Whether anything is cut.
    is_on: UVec4,
}

impl MaterialExtension for Cut {
    fn fragment_shader() -> ShaderRef {
        "embedded://viewer/cut.wgsl".into()
    }

    fn enable_shadows() -> bool {
        false
    }

    fn enable_prepass() -> bool {
        false
    }
}

/// The material of every body.
pub type BodyMaterial = ExtendedMaterial<StandardMaterial, Cut>;

/// The shader and the material.
pub fn plugin(app: &mut App) {
    embedded_asset!(app, "cut.wgsl");
    app.add_plugins(MaterialPlugin::<BodyMaterial>::default());
}

/// An item of the display list, by its index.
#[derive(Component, Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shown(pub usize);

/// Spawns every item of a list under one node. Items that are not there at the look's time are hidden.
pub fn spawn(world: &mut World, list: &DisplayList<'_>, look: &Look) {
    let meshes: Vec<Option<Handle<Mesh>>> = list
        .meshes
        .iter()
        .map(|mesh| {
            let seen = surface(mesh);
            let is_empty = seen.triangles.is_empty();
            (!is_empty).then(|| world.resource_mut::<Assets<Mesh>>().add(lit(seen)))
        })
        .collect();
    let mut materials: HashMap<Role, Handle<BodyMaterial>> = HashMap::new();
    let root = world.spawn((world_from_plate(), Visibility::default())).id();
    for (index, item) in list.items.iter().enumerate() {
        let Some(Some(mesh)) = meshes.get(item.mesh).cloned() else { continue };
        let material = materials.entry(item.role).or_insert_with(|| {
            let made = material(item.role.colour(), look.section.as_ref());
            world.resource_mut::<Assets<BodyMaterial>>().add(made)
        });
        let body = (
            Name::new(item.name.clone()),
            Shown(index),
            Mesh3d(mesh),
            MeshMaterial3d(material.clone()),
            Transform::default(),
            Visibility::default(),
            ChildOf(root),
        );
        world.spawn(body);
    }
    pose(world, list, look.at);
}

/// Puts every item where it is at a time.
pub fn pose(world: &mut World, list: &DisplayList<'_>, at: f64) {
    let mut shown = world.query::<(&Shown, &mut Transform, &mut Visibility)>();
    for (shown, mut transform, mut visibility) in shown.iter_mut(world) {
        let Some(item) = list.items.get(shown.0) else { continue };
        *transform = placed(&item.track.pose(at).unwrap_or(item.place));
        *visibility =
            if item.track.is_there(at) { Visibility::Inherited } else { Visibility::Hidden };
    }
}

fn placed(pose: &Isometry3<f64>) -> Transform {
    let [x, y, z] = pose.translation.vector.into();
    let [i, j, k, w] = pose.rotation.coords.into();
    Transform {
        translation: Vec3::new(single(x), single(y), single(z)),
        rotation: Quat::from_xyzw(single(i), single(j), single(k), single(w)),
        scale: Vec3::ONE,
    }
}

fn lit(seen: Surface) -> Mesh {
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, seen.positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, seen.normals)
        .with_inserted_indices(Indices::U32(seen.triangles.into_flattened()))
}

fn material(colour: Colour, section: Option<&Section>) -> BodyMaterial {
    /// A cut face is so much darker than the body.
    const DARKER: f64 = 0.55;
    let [r, g, b] = colour.rgb;
    let [x, y, z, _] = colour.linear();
    let face = [x, y, z].map(|c| single(DARKER * c));
    let plane = section.map_or(Vec4::ZERO, |section| {
        let normal = direction(&section.away);
        normal.extend(normal.dot(point(&section.through)))
    });
    ExtendedMaterial {
        base: StandardMaterial {
            base_color: Color::srgba_u8(r, g, b, colour.opacity),
            alpha_mode: if colour.opacity < u8::MAX { AlphaMode::Blend } else { AlphaMode::Opaque },
            perceptual_roughness: 0.75,
            metallic: 0.0,
            reflectance: 0.3,
            // The inside is seen through a cut.
            cull_mode: None,
            double_sided: true,
            ..default()
        },
        extension: Cut {
            cut: CutUniform {
                plane,
                face: Vec4::new(face[0], face[1], face[2], 1.0),
                is_on: UVec4::splat(u32::from(section.is_some())),
            },
        },
    }
}
