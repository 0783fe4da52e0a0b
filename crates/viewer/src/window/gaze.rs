//! From where the window looks, turned, moved and brought nearer by hand.

use crate::eye::Eye;
use display::Framing;
use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};

/// An eye on a sphere about what it looks at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gaze {
    /// What is in the middle, plate frame, mm.
    target: Point3<f64>,
    /// From there to the eye.
    toward: Unit<Vector3<f64>>,
    /// What points up.
    up: Unit<Vector3<f64>>,
    /// How far the eye is, mm.
    distance: f64,
    /// The angle over the height, radians.
    angle: f64,
}

/// The eye is no nearer and no farther, mm.
const NEAREST: f64 = 15.0;
const FARTHEST: f64 = 20_000.0;

/// Where something on the screen is looked along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ray {
    /// Where it begins, plate frame, mm.
    pub(crate) from: Point3<f64>,
    /// Where it goes.
    pub(crate) along: Unit<Vector3<f64>>,
}

impl Gaze {
    /// Looks as a framing does.
    pub(crate) fn of(framing: &Framing) -> Self {
        let off = framing.eye - framing.target;
        let distance = off.norm().clamp(NEAREST, FARTHEST);
        let toward = Unit::try_new(off, 1e-9).unwrap_or_else(Vector3::z_axis);
        Self { target: framing.target, toward, up: framing.up, distance, angle: framing.angle }
    }

    /// The eye as scene and overlay take it.
    pub(crate) fn eye(&self, is_parallel: bool) -> Eye {
        let height = 2.0 * self.distance * (0.5 * self.angle).tan();
        let eye = self.target + self.toward.into_inner() * self.distance;
        let framing = Framing { eye, target: self.target, up: self.up, angle: self.angle, height };
        Eye { framing, is_parallel }
    }

    fn right(&self) -> Unit<Vector3<f64>> {
        Unit::try_new(self.up.cross(&self.toward), 1e-9).unwrap_or_else(Vector3::x_axis)
    }

    /// Turns about what is looked at: `[across, down]` in shares of the screen's height, as the hand moves.
    pub(crate) fn turn(&mut self, [across, down]: [f64; 2]) {
        const OF_A_HEIGHT: f64 = 2.6;
        let round = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), -across * OF_A_HEIGHT);
        self.toward = round * self.toward;
        self.up = round * self.up;
        let nod = UnitQuaternion::from_axis_angle(&self.right(), -down * OF_A_HEIGHT);
        let (toward, up) = (nod * self.toward, nod * self.up);
        // Never over the top, nor from below the plate upside down.
        if up.z >= -1e-9 {
            (self.toward, self.up) = (toward, up);
        }
        // Rounding is not let add up.
        let off = self.up.dot(&self.toward) * self.toward.into_inner();
        self.toward.renormalize();
        self.up = Unit::new_normalize(self.up.into_inner() - off);
    }

    /// Moves what is looked at with the hand.
    pub(crate) fn shift(&mut self, [across, down]: [f64; 2]) {
        let height = 2.0 * self.distance * (0.5 * self.angle).tan();
        let up = self.toward.cross(&self.right());
        self.target += (-across * self.right().into_inner() + down * up) * height;
    }

    /// Goes so many times as far off.
    pub(crate) fn back(&mut self, times: f64) {
        self.distance = (self.distance * times).clamp(NEAREST, FARTHEST);
    }

    /// Comes nearer by so many notches of a wheel.
    pub(crate) fn near(&mut self, notches: f64) {
        self.back(0.88_f64.powf(notches));
    }
}

/// Along what one looks at a point of a screen of this width and height, from its left and its top.
pub(crate) fn ray(eye: &Eye, [width, height]: [f64; 2], [x, y]: [f64; 2]) -> Ray {
    let Framing { eye: from, target, up, angle, height: shown } = &eye.framing;
    let look = UnitQuaternion::look_at_rh(&(target - from), up);
    let [x, y] = [x - 0.5 * width, 0.5 * height - y].map(|off| off / (0.5 * height));
    let back = |v: Vector3<f64>| look.inverse() * v;
    if eye.is_parallel {
        let half = 0.5 * shown;
        let along = Unit::new_normalize(back(-Vector3::z()));
        Ray { from: from + back(Vector3::new(x * half, y * half, 0.0)), along }
    } else {
        let half = (0.5 * angle).tan();
        Ray {
            from: *from,
            along: Unit::new_normalize(back(Vector3::new(x * half, y * half, -1.0))),
        }
    }
}

impl Ray {
    /// Where it meets the level so high over the plate; `None` where it runs along it or away from it.
    pub(crate) fn at_height(&self, z: f64) -> Option<Point3<f64>> {
        let share = (z - self.from.z) / self.along.z;
        (share.is_finite() && share > 0.0).then(|| self.from + self.along.into_inner() * share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gaze() -> Gaze {
        Gaze::of(&Framing {
            eye: Point3::new(-900.0, -700.0, 1200.0),
            target: Point3::new(20.0, 30.0, 200.0),
            up: Unit::new_normalize(Vector3::z()),
            angle: 0.5,
            height: 700.0,
        })
    }

    #[test]
    fn a_ray_goes_through_what_is_drawn_there() {
        for is_parallel in [false, true] {
            let eye = gaze().eye(is_parallel);
            for p in [[0.0, 0.0, 0.0], [120.0, -80.0, 260.0], [-60.0, 30.0, 150.0]] {
                let point = Point3::from(p);
                let at = eye.onto([1200.0, 800.0], &point).unwrap();
                let met = ray(&eye, [1200.0, 800.0], at).at_height(point.z).unwrap();
                assert!((met - point).norm() < 1e-6, "{met} for {point}");
            }
        }
    }

    #[test]
    fn turning_keeps_the_distance_and_never_tips_over() {
        let mut gaze = gaze();
        for step in 0..200 {
            let step = f64::from(step);
            gaze.turn([0.07 * step.sin(), 0.3 * (0.7 * step).cos()]);
            let framing = gaze.eye(false).framing;
            assert!(((framing.eye - framing.target).norm() - gaze.distance).abs() < 1e-6);
            assert!(gaze.up.z >= -1e-6 && gaze.up.dot(&gaze.toward).abs() < 1e-6);
        }
    }

    #[test]
    fn a_shift_by_the_hand_moves_what_is_drawn_as_far() {
        let mut gaze = gaze();
        let target = gaze.target;
        gaze.shift([0.1, 0.05]);
        let [x, y] = gaze.eye(true).onto([1000.0, 1000.0], &target).unwrap();
        assert!((x - 600.0).abs() < 1e-6 && (y - 550.0).abs() < 1e-6, "{x} {y}");
    }
}
