//! The eye and the light.
//!
//! Bevy's world is in metres with y up; the plate frame is in millimetres with z up. One node turns and
//! scales everything ([`world_from_plate`]).

use crate::look::Look;
use bevy::camera::ScalingMode;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::prelude::*;
use display::Lens;
use nalgebra::{Point3, Vector3};
use std::f32::consts::FRAC_PI_2;

/// Metres in a millimetre.
const METRES: f64 = 0.001;

/// The node under which everything is in plate frame, mm.
pub fn world_from_plate() -> Transform {
    Transform::from_rotation(Quat::from_rotation_x(-FRAC_PI_2)).with_scale(Vec3::splat(0.001))
}

/// A point of the plate frame, mm, in the world.
pub fn point(p: &Point3<f64>) -> Vec3 {
    direction(&p.coords) * single(METRES)
}

/// A direction of the plate frame in the world.
pub fn direction(v: &Vector3<f64>) -> Vec3 {
    Vec3::new(single(v.x), single(v.z), single(-v.y))
}

#[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
pub(crate) const fn single(x: f64) -> f32 {
    x as f32
}

/// The camera as a look has it.
pub fn camera(look: &Look) -> impl Bundle {
    let framing = &look.framing;
    let (eye, target) = (point(&framing.eye), point(&framing.target));
    let projection = match look.lens {
        Lens::Perspective => Projection::from(PerspectiveProjection {
            fov: single(framing.angle),
            near: 0.02 * eye.distance(target),
            ..default()
        }),
        Lens::Parallel => Projection::from(OrthographicProjection {
            scaling_mode: ScalingMode::FixedVertical {
                viewport_height: single(METRES * framing.height),
            },
            near: 0.0,
            far: 4.0 * eye.distance(target),
            ..OrthographicProjection::default_3d()
        }),
    };
    let clear = if look.is_transparent { Color::NONE } else { BACKGROUND };
    (
        Camera3d::default(),
        Camera { clear_color: ClearColorConfig::Custom(clear), ..default() },
        IsDefaultUiCamera,
        projection,
        Msaa::Sample4,
        // The colours are those of the palette, not those of a film.
        Tonemapping::None,
        Transform::from_translation(eye).looking_at(target, direction(&framing.up)),
        AmbientLight { brightness: 420.0, ..default() },
    )
}

/// Behind everything.
pub const BACKGROUND: Color = Color::srgb(0.957, 0.961, 0.965);

/// A light from over the eye's left shoulder.
pub fn light(look: &Look) -> impl Bundle {
    let framing = &look.framing;
    let (eye, target) = (point(&framing.eye), point(&framing.target));
    let ahead = (target - eye).normalize_or(Vec3::NEG_Y);
    let up = direction(&framing.up);
    let left = up.cross(ahead);
    let from = target - ahead + 0.5 * left + 0.7 * up;
    (
        DirectionalLight { illuminance: 5200.0, shadow_maps_enabled: false, ..default() },
        Transform::from_translation(from).looking_at(target, up),
    )
}
