//! Where the screw's tip turns on the cup, or a collar on its seat: the radius at which friction
//! acts.

use crate::Fault;
use crate::fault::Faults;
use crate::numbers::monotone;
use measure::{Bounds, Interval, Length};

/// Mean radius of a flat collar or pivot that has worn in: `(Ro + Ri) / 2` (uniform wear; Shigley
/// 8-6 and Bhandari 6.6). Takes outside and inside diameters; the inside may be zero.
pub fn worn_collar(outside: Bounds<Length>, inside: Bounds<Length>) -> Bounds<Length> {
    (outside + inside) / 4.0
}

/// Mean radius of a flat collar or pivot that bears evenly:
/// `2/3 (Ro^3 - Ri^3) / (Ro^2 - Ri^2)` (uniform pressure), from both diameters.
pub fn even_collar(outside: Bounds<Length>, inside: Bounds<Length>) -> Bounds<Length> {
    // With q = Ri / Ro: 2/3 Ro (1 + q + q^2) / (1 + q) = 2/3 Ro (1 + q^2 / (1 + q)), rising in q.
    let one = Bounds::exactly(1.0);
    let share = monotone(inside / outside, |q| one + q * q / (one + q));
    outside * share / 3.0
}

/// Mean radius of a ball in a socket of its own radius, bearing evenly:
/// `R (a - sin a cos a) / sin^2 a`, where the socket reaches to the angle `a` from the axis,
/// `cos a = 1 - depth / R`.
///
/// By integration of a constant pressure over the cap: the load is `pi R^2 sin^2 a` times the
/// pressure, the torque `2 pi R^3 (a / 2 - sin 2a / 4)` times pressure and friction. For a shallow
/// socket it becomes the even flat pivot's `2/3 R sin a`. Takes the ball's diameter and the
/// socket's depth. Fault: a socket deeper than the ball's radius, or sizes not above zero.
pub fn ball_in_socket(
    ball: Bounds<Length>,
    depth: Bounds<Length>,
) -> Result<Bounds<Length>, Fault> {
    let mut faults = Faults::default();
    faults.positive("ball diameter", ball);
    faults.positive("socket depth", depth);
    if let Some(fault) = faults.gathered().into_iter().next() {
        return Err(fault);
    }
    let radius = ball / 2.0;
    if depth.high() * 2.0 > ball.low() {
        return Err(Fault::out_of_range(
            "socket depth",
            depth,
            "a socket deeper than the ball's radius holds the ball's sides: give the depth that bears",
        ));
    }
    // The share rises with depth over radius.
    let share: Bounds<f64> = monotone(depth / radius, |part| {
        let angle = (1.0 - part.low().min(1.0)).acos();
        let sine = angle.sin();
        let value = (angle - sine * angle.cos()) / (sine * sine);
        // The difference loses figures where the socket is shallow: its terms are of the size of
        // the angle, each within a few units in the last place.
        let lost = 16.0 * f64::EPSILON * angle / (sine * sine);
        Bounds::from_interval(Interval::exactly(value).widened(lost))
    });
    Ok(radius * share)
}

/// Radius at which the friction of a ball in a socket may act, whatever the fit: from none, where
/// the ball is the smaller and bears at the pole alone (the limit of Hertz's contact), to
/// `R tan a`, where it is the larger and bears on the mouth alone.
///
/// On the mouth's circle the push along the normal is the load over `cos a`, and it rubs at the
/// radius `R sin a`; every other way of bearing is a mean of such circles between the two. `None`
/// where the socket may be a half ball: on its mouth the ball wedges without limit. Takes the
/// ball's diameter and the socket's depth. Faults as for [`ball_in_socket`].
pub fn ball_of_any_fit(
    ball: Bounds<Length>,
    depth: Bounds<Length>,
) -> Result<Option<Bounds<Length>>, Fault> {
    ball_in_socket(ball, depth)?;
    let (radius, one) = (ball / 2.0, Bounds::exactly(1.0));
    let part = (depth / radius).high();
    if part >= 1.0 {
        return Ok(None);
    }
    let part = Bounds::exactly(part);
    let steep = (part * (Bounds::exactly(2.0) - part)).sqrt() / (one - part);
    Ok(Some(Bounds::between(Length::from_mm(0.0), (radius * steep).high())))
}

/// Radius at which the friction of a ball in a socket acts against tilting: at most
/// `sqrt(R^2 + r^2 / 2)`, with the ball's radius and the radius `r` at which it rubs when it turns about
/// the socket's axis; the ball's radius itself where it bears at the pole.
///
/// On a circle at the angle `a` from the axis, `r = R tan a`, the push along the normal is the load over
/// `cos a`, and a point of it slides past a level axis at `R sqrt(1 - sin^2 a cos^2 u)` around the circle
/// `u`; the mean of that root is no more than the root of its mean (Jensen), `R sqrt(1 - sin^2 a / 2)`.
/// Takes the ball's diameter and that radius.
pub fn tilting_radius(ball: Bounds<Length>, turning: Bounds<Length>) -> Bounds<Length> {
    let radius = ball / 2.0;
    (radius * radius + turning * turning / 2.0).sqrt()
}

/// Diameter of the circle on which a ball enters its socket: `2 sqrt(h (D - h))` with the ball's
/// diameter and the socket's depth. The screw's load bears on this circle's area.
///
/// Faults as for [`ball_in_socket`].
pub fn socket_mouth(ball: Bounds<Length>, depth: Bounds<Length>) -> Result<Bounds<Length>, Fault> {
    ball_in_socket(ball, depth)?;
    Ok((depth * (ball - depth)).sqrt() * 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(x: f64) -> Bounds<Length> {
        Bounds::exactly(Length::from_mm(x))
    }

    #[test]
    fn an_even_pivot_without_a_hole_acts_at_two_thirds_of_its_radius() {
        assert!(even_collar(mm(30.0), mm(0.0)).interval().contains(10.0));
        // A thin collar bears at its radius, however it bears.
        let thin = even_collar(mm(100.0), mm(99.0)).middle().mm();
        assert!((thin - worn_collar(mm(100.0), mm(99.0)).middle().mm()).abs() < 1e-3);
    }

    /// Both limits in closed form: a flat pivot of the contact's radius for a shallow socket, and
    /// `pi / 2` times the ball's radius for a half ball.
    #[test]
    fn a_ball_is_a_flat_pivot_when_shallow_and_a_half_ball_when_deep() {
        let shallow = ball_in_socket(mm(30.0), mm(1e-4)).unwrap().middle().mm();
        let contact = (2.0_f64 * 15.0 * 1e-4).sqrt();
        assert!((shallow / (2.0 / 3.0 * contact) - 1.0).abs() < 1e-4);
        let half = ball_in_socket(mm(30.0), mm(15.0)).unwrap().middle().mm();
        assert!((half - 15.0 * std::f64::consts::FRAC_PI_2).abs() < 1e-9);
        assert!(socket_mouth(mm(30.0), mm(15.0)).unwrap().interval().contains(30.0));
        // A 3-4-5 triangle: radius 25, depth 10, half the mouth 20.
        assert!(socket_mouth(mm(50.0), mm(10.0)).unwrap().interval().contains(40.0));
    }

    /// A 3-4-5 triangle: radius 25, depth 10, so that `tan a = 4 / 3`.
    #[test]
    fn a_ball_of_any_fit_rubs_between_pole_and_mouth() {
        let any = ball_of_any_fit(mm(50.0), mm(10.0)).unwrap().unwrap();
        assert!(any.low().mm() <= 0.0 && (any.high().mm() - 100.0 / 3.0).abs() < 1e-9, "{any}");
        // The least ball with the deepest socket counts; a half ball wedges.
        let wide = Bounds::about(Length::from_mm(10.0), Length::from_mm(2.0));
        let any = ball_of_any_fit(mm(50.0), wide).unwrap().unwrap();
        assert!(
            (any.high().mm() - 25.0 * 13.0_f64.mul_add(-13.0, 625.0).sqrt() / 13.0).abs() < 1e-9
        );
        assert_eq!(ball_of_any_fit(mm(50.0), mm(25.0)).unwrap(), None);
        assert!(ball_of_any_fit(mm(50.0), mm(26.0)).is_err());
    }

    /// The mean around the circle by a sum, at the angles of 3-4-5 triangles: never more than what is told,
    /// and no more than a twentieth less.
    #[test]
    fn a_ball_that_tilts_rubs_at_no_more_than_the_radius_told() {
        for (sine, cosine) in [(0.0, 1.0), (0.6, 0.8), (0.8, 0.6), (0.28, 0.96)] {
            let around = (0..720_u32).map(|i| {
                let u = f64::from(i).to_radians() / 2.0;
                (1.0 - (sine * u.cos()).powi(2)).sqrt() / 720.0
            });
            let exact = 25.0 * around.sum::<f64>() / cosine;
            let told = tilting_radius(mm(50.0), mm(25.0 * sine / cosine)).high().mm();
            assert!(told >= exact - 1e-9 && told < 1.05 * exact, "{told} and {exact}");
        }
    }

    #[test]
    fn a_socket_deeper_than_the_ball_is_a_fault() {
        let fault = ball_in_socket(mm(30.0), mm(16.0)).unwrap_err().to_string();
        assert!(fault.contains("socket depth") && fault.contains("16 mm"), "{fault}");
        assert!(ball_in_socket(mm(f64::NAN), mm(1.0)).is_err());
        // The smallest ball with the deepest socket counts.
        let ball = Bounds::about(Length::from_mm(30.0), Length::from_mm(0.1));
        assert!(ball_in_socket(ball, mm(15.0)).is_err() && ball_in_socket(ball, mm(14.9)).is_ok());
        let depth = Bounds::about(Length::from_mm(14.9), Length::from_mm(0.2));
        assert!(ball_in_socket(mm(30.0), depth).is_err());
    }
}
