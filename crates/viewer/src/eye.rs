//! From where a scene is looked at, as a camera and as plain arithmetic.
//!
//! Bevy's world is the plate frame itself: millimetres, z up. A camera is told what is up.

use bevy::camera::ScalingMode;
use bevy::prelude::*;
use display::Framing;
use nalgebra::{Isometry3, Point3};

/// Where the eye is, and how what it sees is laid on the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Eye {
    /// Where it is and where it looks.
    pub(crate) framing: Framing,
    /// Whether lines that are parallel stay so.
    pub(crate) is_parallel: bool,
}

/// What lies nearer to the eye is not drawn, mm.
const NEAR: f32 = 1.0;
/// A parallel picture shows what lies so far behind and before the eye, mm.
const DEPTH: f32 = 20_000.0;

impl Eye {
    /// The same eye with room left at the top and at the bottom, as shares of the picture's height.
    pub(crate) fn with_room(mut self, [top, bottom]: [f64; 2]) -> Self {
        let times = 1.0 / (1.0 - top - bottom);
        let Framing { eye, target, up, angle, height } = &mut self.framing;
        let way = *target - *eye;
        let shown =
            if self.is_parallel { *height } else { 2.0 * way.norm() * (0.5 * *angle).tan() };
        // Up as it is on the picture.
        let right = way.cross(up);
        let rise = right.cross(&way).try_normalize(0.0).unwrap_or_default();
        let off = rise * (0.5 * (top - bottom) * times * shown);
        *eye += off;
        *target += off;
        *height *= times;
        *angle = 2.0 * (times * (0.5 * *angle).tan()).atan();
        self
    }

    /// The camera's place.
    pub(crate) fn transform(&self) -> Transform {
        let Framing { eye, target, up, .. } = &self.framing;
        let up = Vec3::from(up.into_inner().map(single).data.0[0]);
        Transform::from_translation(point(eye)).looking_at(point(target), up)
    }

    /// How the camera lays down what it sees.
    pub(crate) fn projection(&self) -> Projection {
        if self.is_parallel {
            let viewport_height = single(self.framing.height);
            Projection::Orthographic(OrthographicProjection {
                near: -DEPTH,
                far: DEPTH,
                scaling_mode: ScalingMode::FixedVertical { viewport_height },
                ..OrthographicProjection::default_3d()
            })
        } else {
            let fov = single(self.framing.angle);
            Projection::Perspective(PerspectiveProjection { fov, near: NEAR, ..default() })
        }
    }

    /// Where a point of the plate frame lies on a picture of this width and height: from its left and
    /// its top, in the same unit. `None` for what lies behind the eye.
    pub(crate) fn onto(&self, size: [f64; 2], seen: &Point3<f64>) -> Option<[f64; 2]> {
        let sight = self.sight(size);
        sight.laid(&(sight.look * seen))
    }

    /// The same for very many points.
    pub(crate) fn sight(&self, size: [f64; 2]) -> Sight {
        let Framing { eye, target, up, angle, height } = &self.framing;
        let look = Isometry3::look_at_rh(eye, target, up);
        let half = if self.is_parallel { 0.5 * height } else { (0.5 * angle).tan() };
        Sight { look, half, is_parallel: self.is_parallel, size }
    }
}

/// An eye before a picture of a size.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sight {
    /// Into the eye's frame: x to the right, y up, the view along -z, mm.
    pub(crate) look: Isometry3<f64>,
    /// Half of the height that is seen, mm; in perspective that of a view 1 mm away.
    half: f64,
    is_parallel: bool,
    size: [f64; 2],
}

impl Sight {
    /// Where a point of the eye's frame lies on the picture.
    pub(crate) fn laid(&self, off: &Point3<f64>) -> Option<[f64; 2]> {
        let half = if self.is_parallel {
            self.half
        } else if off.z < -f64::from(NEAR) {
            -off.z * self.half
        } else {
            return None;
        };
        let [width, height] = self.size;
        let scale = 0.5 * height / half;
        Some([0.5 * width + scale * off.x, 0.5 * height - scale * off.y])
    }
}

impl Eye {
    /// How far a point is from the eye along the view, mm.
    pub(crate) fn depth(&self, point: &Point3<f64>) -> f64 {
        let way = self.framing.target - self.framing.eye;
        way.dot(&(point - self.framing.eye)) / way.norm()
    }
}

/// A point as Bevy takes it.
pub(crate) fn point(p: &Point3<f64>) -> Vec3 {
    Vec3::new(single(p.x), single(p.y), single(p.z))
}

/// How many whole ones are in it; none for what is below one.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float to an integer saturates"
)]
pub(crate) fn whole(x: f64) -> usize {
    x as usize
}

#[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
pub(crate) fn single(x: f64) -> f32 {
    x as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Unit, Vector3};

    fn eye(is_parallel: bool) -> Eye {
        let framing = Framing {
            eye: Point3::new(-900.0, -700.0, 1200.0),
            target: Point3::new(20.0, 30.0, 200.0),
            up: Unit::new_normalize(Vector3::z()),
            angle: 0.5,
            height: 700.0,
        };
        Eye { framing, is_parallel }
    }

    /// Beside Bevy's own matrices.
    #[test]
    fn a_point_lies_where_the_camera_draws_it() {
        let size = [1280.0, 800.0];
        for is_parallel in [false, true] {
            let eye = eye(is_parallel);
            let mut projection = eye.projection();
            projection.update(1280.0, 800.0);
            let clip_from_world =
                projection.get_clip_from_view() * eye.transform().to_matrix().inverse();
            for p in [[0.0, 0.0, 0.0], [300.0, -200.0, 450.0], [20.0, 30.0, 200.0]] {
                let p = Point3::from(p);
                let ndc = clip_from_world.project_point3(point(&p));
                let [x, y] = eye.onto(size, &p).unwrap();
                assert!((x - 640.0 * f64::from(1.0 + ndc.x)).abs() < 0.05, "{x} {ndc}");
                assert!((y - 400.0 * f64::from(1.0 - ndc.y)).abs() < 0.05, "{y} {ndc}");
            }
        }
    }

    #[test]
    fn room_is_left_at_the_top_and_at_the_bottom() {
        for is_parallel in [false, true] {
            let before = eye(is_parallel);
            let after = before.with_room([0.2, 0.05]);
            // Square to the view through the target, where both are exact.
            let framing = before.framing;
            let way = framing.target - framing.eye;
            let rise = way.cross(&framing.up).cross(&way).normalize();
            let half = if is_parallel { 350.0 } else { way.norm() * 0.25_f64.tan() };
            for (at, expected) in [(half, 160.0), (-half, 760.0)] {
                let [_, y] = after.onto([1280.0, 800.0], &(framing.target + rise * at)).unwrap();
                assert!((y - expected).abs() < 1e-6, "{y} for {expected}");
            }
        }
    }

    #[test]
    fn what_lies_behind_the_eye_is_nowhere() {
        let behind = Point3::new(-1800.0, -1400.0, 2300.0);
        assert_eq!(eye(false).onto([100.0, 100.0], &behind), None);
    }
}
