//! How far each thing may be changed by hand.

use assembly::car_top::LidState;
use assembly::{CarTop, Choice, Kit};
use fitup::search::space::ClampReach;
use measure::Angle;
use nalgebra::Vector2;
use std::f64::consts::{PI, TAU};

/// How far each thing may be changed by hand: as far as the kit's parts go. Within it rules may be
/// broken; that is what is tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranges {
    /// Greatest distance of the cup's axis from the fitting's centreline: the centreline stays within
    /// the cup, mm.
    pub cup_offset: f64,
    /// Least and greatest opening of the lid: from closed to its stop; `None` without a hinged lid.
    pub lid_opening: Option<[Angle; 2]>,
    /// Greatest shift of the feet at ends A and B either way: as the placement search has it, mm.
    pub foot_shift: [f64; 2],
    /// Least and greatest slide of the bar, likewise, mm.
    pub bar_slide: [f64; 2],
    /// Least and greatest extension of the screw: fully retracted, and with its travel used up, mm.
    pub screw_extension: [f64; 2],
    /// How many turns of the elbow the kit allows.
    pub elbow_turns: usize,
    /// How many thicknesses of links the kit has.
    pub link_thicknesses: usize,
    /// How many upper holes a link has.
    pub link_holes: usize,
}

impl Ranges {
    /// The ranges under a choice. `None` for a choice that the car top and the kit do not hold.
    pub fn of(car: &CarTop, kit: &Kit, choice: &Choice) -> Option<Self> {
        let cup = kit.cups.get(choice.cup)?;
        let ports = [car.ports.get(choice.ports[0])?, car.ports.get(choice.ports[1])?];
        let clamp = ClampReach::of(kit, ports);
        let lid_opening = match &car.lid {
            LidState::Hinged(lid) => Some([Angle::ZERO, lid.stop]),
            LidState::Unknown | LidState::None => None,
        };
        let retracted = kit.screw.retracted.nominal;
        Some(Self {
            cup_offset: 0.5 * cup.inside_diameter.nominal,
            lid_opening,
            foot_shift: clamp.shift,
            bar_slide: clamp.slide,
            screw_extension: [retracted, retracted + kit.screw.travel.nominal],
            elbow_turns: kit.outlet.elbow_turns.len(),
            link_thicknesses: kit.link.thicknesses.len(),
            link_holes: kit.link.holes.len(),
        })
    }

    /// The nearest cup offset within reach; none at all for what is no number.
    pub(crate) fn offset(&self, asked: Vector2<f64>) -> Option<Vector2<f64>> {
        let far = asked.norm();
        let within = if far > self.cup_offset { asked * (self.cup_offset / far) } else { asked };
        within.iter().all(|c| c.is_finite()).then_some(within)
    }
}

/// The nearest value within a range; none for what is no number.
pub(crate) fn within(asked: f64, [low, high]: [f64; 2]) -> Option<f64> {
    (!asked.is_nan() && low <= high).then(|| asked.clamp(low, high))
}

/// A bearing within half a turn either way; none for what is no number. One that is within it already
/// stays as it is, to the bit.
pub(crate) fn bearing(asked: Angle) -> Option<Angle> {
    let radians = asked.radians();
    if !radians.is_finite() {
        return None;
    }
    if (-PI..=PI).contains(&radians) {
        return Some(asked);
    }
    Some(Angle::from_radians((radians + PI).rem_euclid(TAU) - PI))
}
