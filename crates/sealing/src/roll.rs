//! Whether the clamp stays upright over the cup: bar and screw stand on the ball, and are held down at
//! the upper pins by links that hang on the lower ones. All pins run along the bar, so that nothing but
//! friction keeps the bar from rolling aside.
//!
//! The links pull along the line through both pins. Where that passes the ball's centre at a distance
//! `y`, it turns the clamp about the ball: with the lower pins `d` and the upper ones `x` off the ball,
//! both to one side, and the heights `g` of the lower pins, `h` of the ball, `u` of the upper pins,
//! `y = d (u - h) / (u - g) + x (h - g) / (u - g)`. With the upper pins above the ball a roll brings the
//! pins nearer to each other: the links slacken, and it goes on. It never begins where friction takes the
//! line: in the ball by its radius, in the pins by theirs, weighted as the pins' places are, each times
//! the sine of the angle of friction (friction circles, statics, any handbook). Upper pins below the ball
//! hang, and come back by themselves.

use crate::fault::Faults;
use crate::{Fault, Friction};
use measure::{Bounds, Length};

/// How the bar stands on the ball between upper and lower pins, seen along the bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roll {
    /// Distance across the bar between the ball and the line through the lower pins, `>= 0`.
    pub lower_off: Bounds<Length>,
    /// The same of the line through the upper pins, to the same side at the worst, `>= 0`.
    pub upper_off: Bounds<Length>,
    /// Height of the lower pins above the gasket's face; below zero where they lie below it.
    pub lower_height: Bounds<Length>,
    /// Height of the ball's centre.
    pub ball_height: Bounds<Length>,
    /// Height of the upper pins.
    pub upper_height: Bounds<Length>,
}

impl Roll {
    /// What is wrong with it: numbers, and upper pins no higher than the lower ones.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.not_negative("distance of the ball from the lower pins' line", self.lower_off);
        faults.not_negative("distance of the ball from the upper pins' line", self.upper_off);
        faults.finite("height of the ball", self.ball_height);
        let remedy = "the links would not pull down: check the links' holes";
        faults.finite("height of the lower pins", self.lower_height);
        faults.finite("height of the upper pins", self.upper_height);
        faults.below("height of the lower pins", self.lower_height, self.upper_height, remedy);
        faults.gathered()
    }

    /// Whether the upper pins lie below the ball for certain, so that the clamp hangs.
    pub fn hangs(&self) -> bool {
        self.upper_height.high() <= self.ball_height.low()
    }

    /// How far the links' line passes the ball's centre while it tips the clamp; nought where the clamp
    /// hangs.
    pub fn arm(&self) -> Bounds<Length> {
        if self.hangs() {
            return Bounds::exactly(Length::from_mm(0.0));
        }
        self.weighted(self.lower_off, self.upper_off)
    }

    /// How far friction takes that line: in the ball, and in the pins that a link joins.
    pub fn friction(
        &self,
        (ball, in_seat): (Bounds<Length>, Friction),
        [lower, upper]: [Bounds<Length>; 2],
        in_pins: Friction,
    ) -> Bounds<Length> {
        let pins = self.weighted(lower / 2.0, upper / 2.0) * in_pins.sine();
        ball / 2.0 * in_seat.sine() + pins
    }

    /// A figure of the lower pins and one of the upper, weighted as a line through both is at the ball. It
    /// is even in the weight, so that its ends hold every value.
    fn weighted(&self, lower: Bounds<Length>, upper: Bounds<Length>) -> Bounds<Length> {
        let one = Bounds::exactly(1.0);
        let (g, h, u) = (self.lower_height, self.ball_height, self.upper_height);
        // The weight falls with the ball's height, rises with the upper pins', and with the lower ones' as
        // long as these lie below the ball.
        let at = |g: Length, h: Length, u: Length| {
            let [g, h, u] = [g, h, u].map(Bounds::exactly);
            ((u - h) / (u - g)).max(Bounds::exactly(0.0)).min(one)
        };
        let ends = [at(g.low(), h.high(), u.low()), at(g.high(), h.low(), u.high())];
        let [least, most] = ends.map(|share| lower * share + upper * (one - share));
        least.hull(most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(x: f64) -> Bounds<Length> {
        Bounds::exactly(Length::from_mm(x))
    }

    fn rubs(low: f64, high: f64) -> Friction {
        Friction::new(Bounds::between(low, high)).unwrap()
    }

    fn roll(lower: f64, upper: f64) -> Roll {
        Roll {
            lower_off: mm(lower),
            upper_off: mm(upper),
            lower_height: mm(115.0),
            ball_height: mm(318.0),
            upper_height: mm(407.0),
        }
    }

    /// By similar triangles on the demo's heights: 89 and 203 of 292 mm.
    #[test]
    fn the_links_pass_the_ball_as_their_pins_stand() {
        for (lower, upper, arm) in [
            (3.0, 0.0, 3.0 * 89.0 / 292.0),
            (0.0, 3.0, 3.0 * 203.0 / 292.0),
            (2.0, 1.0, (2.0 * 89.0 + 203.0) / 292.0),
            (3.0, 3.0, 3.0),
        ] {
            let told = roll(lower, upper).arm();
            assert!((told.middle().mm() - arm).abs() < 1e-12, "{told} for {arm}");
        }
        // Heights within bounds: every line between holds.
        let wide = Roll {
            ball_height: Bounds::about(Length::from_mm(318.0), Length::from_mm(3.0)),
            upper_height: Bounds::about(Length::from_mm(407.0), Length::from_mm(2.0)),
            ..roll(3.0, 1.0)
        };
        for (h, u) in [(315.0, 405.0), (321.0, 409.0), (315.0, 409.0), (318.0, 407.0)] {
            let arm = (3.0 * (u - h) + h - 115.0) / (u - 115.0);
            assert!(wide.arm().interval().contains(arm), "{} without {arm}", wide.arm());
        }
    }

    /// The clamp as a free body on the verge of rolling, under a pull of 1 by links that touch the friction
    /// circles of their pins: its moment about the ball's centre is the seat's friction. Source: statics.
    #[test]
    fn friction_holds_the_line_that_touches_its_circles() {
        let (ball, seat, pins) = (mm(31.75), rubs(0.1, 0.12), rubs(0.2, 0.25));
        let held = roll(3.0, 3.0).friction((ball, seat), [mm(16.0), mm(15.0)], pins);
        let circle = |radius: f64, friction: f64| radius * friction / friction.hypot(1.0);
        let (of_ball, lower, upper) = (circle(15.875, 0.1), circle(8.0, 0.2), circle(7.5, 0.2));
        // The line passes the pins' centres by their circles, toward the ball; where it meets the ball's
        // height is what the pins take off.
        let takes = lower + (upper - lower) * (318.0 - 115.0) / (407.0 - 115.0);
        assert!((held.low().mm() - of_ball - takes).abs() < 1e-9, "{held}");
        assert!(held.high() > held.low());
        // Without friction nothing is held, and more of it holds more.
        let none = roll(3.0, 3.0).friction((ball, rubs(0.0, 0.0)), [mm(16.0); 2], rubs(0.0, 0.0));
        assert!(none.high().mm() < 1e-12);
    }

    /// Energy: a clamp with its upper pins above the ball gives way as it rolls, one below is drawn back.
    /// The distance between the pins, which the links hold at most, by plain geometry.
    #[test]
    fn only_upper_pins_above_the_ball_give_way_in_a_roll() {
        for (upper_height, gives_way) in
            [(407.0, true), (330.0, true), (300.0, false), (200.0, false)]
        {
            let apart = |turn: f64| {
                let arm = upper_height - 318.0;
                let (x, u) = (arm * f64::sin(turn), 318.0 + arm * f64::cos(turn));
                x.hypot(u - 115.0)
            };
            assert_eq!(apart(0.01) < apart(0.0), gives_way);
            let stands = Roll { upper_height: mm(upper_height), ..roll(2.0, 2.0) };
            assert_eq!(stands.hangs(), !gives_way);
            assert_eq!(stands.arm().high().mm() > 0.0, gives_way);
        }
    }

    #[test]
    fn pins_that_do_not_pull_down_are_a_fault() {
        assert!(roll(3.0, 3.0).faults().is_empty());
        let flat = Roll { upper_height: mm(115.0), ..roll(3.0, 3.0) };
        assert!(flat.faults().remove(0).to_string().contains("links' holes"));
        assert!(!roll(-1.0, 0.0).faults().is_empty() && !roll(0.0, f64::NAN).faults().is_empty());
    }
}
