//! How a clamp that hangs on its lower pins presses a cup: where the load's line meets the gasket.
//!
//! Across the bar the clamp is held by its lower pins, which run along the bar, and by the ball in the
//! cup's seat: a body on which two forces act, so both lie on the line through pins and ball. With the
//! ball off above the pins that line leans, and meets the gasket farther off the cup's axis than the
//! pins stand: `d h / (h - g)` with the heights `h` of the ball's centre and `g` of the pins. Friction
//! in the ball lets the line pass the ball's centre at `f`; the line still goes through the pins, so that
//! it comes `f g / (h - g)` farther off. Friction in the pins lets it pass the middles of their holes by
//! the radius of their friction circle, as if the pins stood that much farther off. All that is so as long as
//! the links do not turn about the upper pins: otherwise the bar may roll over the ball by itself. A ball no higher than the pins would push the cup over: it then
//! rests on the gasket's stiffness alone, which nobody gives.
//!
//! Along the bar the load leans as the links do, whose pull is all that could hold it aside, or as the
//! screw does in a bar out of level where the links hold it; friction passes it by `f`.
//! Statics, any handbook.

use crate::Fault;
use crate::fault::Faults;
use measure::{Bounds, Length};

/// How a clamp hangs on its lower pins over a cup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hang {
    /// Distance across the bar between the cup's axis and the line through the lower pins, `>= 0`.
    pub off: Bounds<Length>,
    /// Height of the ball's centre above the gasket's face.
    pub seat_height: Bounds<Length>,
    /// Height of the lower pins above the gasket's face, where they stand higher; below zero where they
    /// lie below it.
    pub pin_height: Bounds<Length>,
    /// How far the links lean along the bar, as run over rise, `>= 0`.
    pub links: Bounds<f64>,
    /// How far the bar is out of level, as rise over run, `>= 0`.
    pub level: Bounds<f64>,
    /// How far from the ball's centre friction in the seat lets the load pass, `>= 0`:
    /// [`crate::tilting_radius`] times friction.
    pub ball: Bounds<Length>,
    /// How far from the middles of the lower pins' holes friction lets the load pass, `>= 0`: the holes'
    /// radius times the sine of the angle of friction, [`crate::Friction::sine`].
    pub pin: Bounds<Length>,
}

impl Hang {
    /// What is wrong with it: numbers, and a ball that stands no higher than the lower pins.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.not_negative("distance of the cup's axis from the bar's line", self.off);
        faults.positive("height of the cup's seat", self.seat_height);
        faults.finite("height of the lower pins", self.pin_height);
        faults.not_negative("friction of the ball over its load", self.ball);
        faults.not_negative("friction of the lower pins over their load", self.pin);
        for lean in [self.links, self.level] {
            if !lean.is_finite() || lean.low() < 0.0 {
                let remedy = "give how far it leans over a length, zero or more";
                faults.push(Fault::out_of_range("lean of the clamp", lean, remedy));
            }
        }
        let above = self.seat_height - self.pin_height;
        if above.is_finite() && above.low() <= Length::from_mm(0.0) {
            let remedy = "the clamp would push the cup over: a taller cup is wanted, or a foot that \
                          carries its pin lower";
            faults.push(Fault::out_of_range(
                "height of the ball above the lower pins",
                above,
                remedy,
            ));
        }
        faults.gathered()
    }

    /// Height of the ball above the pins over its height above the gasket, `(h - g) / h`.
    fn above(&self) -> Bounds<f64> {
        Bounds::exactly(1.0) - self.pin_height / self.seat_height
    }

    /// Distance between the load's line and the cup's axis at the gasket's face, to whichever side.
    pub fn offset(&self) -> Bounds<Length> {
        let one = Bounds::exactly(1.0);
        let across = (self.off + self.pin) / self.above();
        let along = self.seat_height * self.links.max(self.level);
        // Whichever way friction acts: across the bar by the first, along it by the second.
        let by_friction = self.ball * (one / self.above() - one).max(one);
        let most = (across * across + along * along).sqrt() + by_friction;
        Bounds::between(Length::from_mm(0.0), most.high())
    }

    /// How much the load's line may lean against the screw, as run over rise: across the bar as pins, ball
    /// and its friction let it, along the bar as links and screw lean against each other.
    pub fn lean(&self) -> Bounds<f64> {
        let across = (self.off + self.pin + self.ball) / (self.seat_height * self.above());
        let along = self.links + self.level;
        Bounds::between(0.0, (across * across + along * along).sqrt().high())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(x: f64) -> Bounds<Length> {
        Bounds::exactly(Length::from_mm(x))
    }

    /// Heights above the gasket's face as the demo's cups have them, and the pins.
    const SEATS: [f64; 5] = [200.0, 289.0, 318.0, 327.0, 340.0];
    const PINS: f64 = 115.0;

    fn hang(seat: f64) -> Hang {
        let none = Bounds::exactly(0.0);
        let (off, ball, pin) = (mm(3.0), mm(0.0), mm(0.0));
        let (seat_height, pin_height) = (mm(seat), mm(PINS));
        Hang { off, seat_height, pin_height, links: none, level: none, ball, pin }
    }

    /// By similar triangles: 3 mm at the ball come to 3 h / (h - g) at the gasket.
    #[test]
    fn a_low_cup_under_high_pins_is_pressed_farther_off_its_axis() {
        for (seat, at_gasket) in SEATS.into_iter().zip([7.059, 4.983, 4.700, 4.627, 4.533]) {
            let told = hang(seat).offset().high().mm();
            assert!((told - at_gasket).abs() < 0.0006, "{told} at {seat}");
        }
    }

    /// Clamp and cup as free bodies, under a load of 1: moments of the clamp about its pins, with the
    /// ball's friction, give what pushes the ball aside; that and friction on the cup give the moment at
    /// the gasket. Source: statics.
    #[test]
    fn the_offset_is_the_moment_on_the_cup_over_the_load() {
        for seat in SEATS {
            for (rubs, in_pins) in [(-1.9, 0.0), (0.0, 1.4), (2.5, 1.1)] {
                let clamp = Hang { ball: mm(f64::abs(rubs)), pin: mm(in_pins), ..hang(seat) };
                // The pins stand 3 mm toward one side, and pull past their centres: of the ball's push up with
                // that lever, of its push aside with the heights' difference, and of friction, the sum is
                // zero.
                let lever = 3.0 + in_pins;
                let aside = (lever + rubs) / (seat - PINS);
                let moment = seat * aside - rubs;
                let told = clamp.offset().high().mm();
                // Or friction acts along the bar, where it counts once.
                let once = f64::max(PINS / (seat - PINS), 1.0) * clamp.ball.high().mm();
                let most = lever * seat / (seat - PINS) + once;
                assert!(told >= moment.abs() - 1e-9 && told <= most + 1e-9, "{told}, {moment}");
                assert!(clamp.lean().high() >= aside - 1e-12);
            }
            // Along the bar the load leans by a hundredth, square to the 3 mm.
            let along =
                Hang { links: Bounds::exactly(0.01), level: Bounds::exactly(0.004), ..hang(seat) };
            let by_hand = (3.0 * seat / (seat - PINS)).hypot(seat * 0.01);
            assert!((along.offset().high().mm() - by_hand).abs() < 1e-9);
        }
    }

    #[test]
    fn a_ball_no_higher_than_the_pins_is_a_fault() {
        assert!(hang(115.1).faults().is_empty());
        let uncertain = Hang {
            pin_height: Bounds::about(Length::from_mm(PINS), Length::from_mm(0.2)),
            ..hang(115.1)
        };
        for low in [hang(115.0), hang(80.0), uncertain] {
            let fault = low.faults().remove(0).to_string();
            assert!(
                fault.contains("ball above the lower pins") && fault.contains("taller cup"),
                "{fault}"
            );
        }
        assert!(!Hang { off: mm(f64::NAN), ..hang(200.0) }.faults().is_empty());
        assert!(!Hang { links: Bounds::exactly(-0.1), ..hang(200.0) }.faults().is_empty());
    }
}
