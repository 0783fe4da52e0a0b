//! What raises the highest pressure most: one figure at a time a tenth better.

use super::{Part, Rig, highest_pressure};
use crate::{Fault, Friction};
use measure::{Bounds, Pressure, Quantity};
use std::fmt;
use std::ops::{Add, Mul, Sub};

/// A figure that could be better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Lever {
    /// Friction in the thread, both ends of its range lower.
    ThreadFriction,
    /// Friction at the screw's tip, both ends of its range lower.
    PivotFriction,
    /// The ranges of friction narrower about their middles: measured better.
    FrictionKnown,
    /// The range of the radius at which the screw's tip rubs narrower about its middle.
    PivotKnown,
    /// The torque set more closely.
    TorqueKnown,
    /// Contact stress that the gasket needs lower.
    GasketStress,
    /// The screw nearer to the cup's axis.
    CupOffset,
    /// The screw nearer to the middle of the bar.
    ScrewAlong,
    /// The screw nearer to the bar's centre line.
    ScrewAcross,
    /// More force of the hand.
    Hand,
    /// A longer handle.
    Handle,
    /// Links that slide less far along their pins.
    PinPlay,
    /// A stronger part.
    Strength(Part),
}

impl fmt::Display for Lever {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ThreadFriction => f.write_str("less friction in the thread"),
            Self::PivotFriction => f.write_str("less friction at the screw's tip"),
            Self::FrictionKnown => f.write_str("friction known more closely"),
            Self::PivotKnown => {
                f.write_str("the radius at which the screw's tip rubs known more closely")
            }
            Self::TorqueKnown => f.write_str("the torque set more closely"),
            Self::GasketStress => f.write_str("a gasket that needs less contact stress"),
            Self::CupOffset => f.write_str("the screw nearer to the cup's axis"),
            Self::ScrewAlong => f.write_str("the screw nearer to the bar's middle"),
            Self::ScrewAcross => f.write_str("the screw nearer to the bar's centre line"),
            Self::Hand => f.write_str("more force at the handle"),
            Self::Handle => f.write_str("a longer handle"),
            Self::PinPlay => f.write_str("less play of the links along their pins"),
            Self::Strength(part) => write!(f, "a stronger {}", part.word()),
        }
    }
}

/// What a tenth of one figure gains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Raise {
    /// The figure.
    pub lever: Lever,
    /// The pressure held for certain with it.
    pub surely: Pressure,
    /// What that is more than before.
    pub gain: Pressure,
}

const LESS: f64 = 0.9;
const MORE: f64 = 1.1;

/// Tries every figure a tenth better, one at a time, and tells those that raise the highest
/// pressure, most first. Empty where no pressure is held for certain: what is missing comes first
/// then. `Err`: what is wrong with the rig.
pub fn what_raises_it(rig: &Rig) -> Result<Vec<Raise>, Vec<Fault>> {
    let Some(before) = highest_pressure(rig)?.surely else { return Ok(Vec::new()) };
    let mut levers = vec![
        Lever::ThreadFriction,
        Lever::PivotFriction,
        Lever::FrictionKnown,
        Lever::PivotKnown,
        Lever::TorqueKnown,
        Lever::GasketStress,
        Lever::CupOffset,
        Lever::ScrewAlong,
        Lever::ScrewAcross,
        Lever::Hand,
        Lever::Handle,
        Lever::PinPlay,
    ];
    levers.extend(Part::ALL.map(Lever::Strength));
    let mut raises = Vec::new();
    for lever in levers {
        let after = highest_pressure(&better(rig, lever))?.surely.unwrap_or(before);
        let gain = after - before;
        // Less than the solver's own closeness is nothing.
        if gain > before * 1e-6 {
            raises.push(Raise { lever, surely: after, gain });
        }
    }
    raises.sort_by(|a, b| b.gain.mpa().total_cmp(&a.gain.mpa()));
    Ok(raises)
}

/// The rig with one figure a tenth better.
fn better(rig: &Rig, lever: Lever) -> Rig {
    let mut rig = rig.clone();
    let screw = &mut rig.screw;
    match lever {
        Lever::ThreadFriction => change(&mut screw.thread_friction, |f| scaled(f, LESS)),
        Lever::PivotFriction => change(&mut screw.pivot_friction, |f| scaled(f, LESS)),
        Lever::FrictionKnown => {
            change(&mut screw.thread_friction, narrower);
            change(&mut screw.pivot_friction, narrower);
        }
        Lever::PivotKnown => screw.pivot_radius = screw.pivot_radius.map(narrower),
        Lever::TorqueKnown => screw.torque_error = screw.torque_error.map(|e| e * LESS),
        Lever::GasketStress => {
            if let Some(supplier) = &mut rig.gasket.supplier {
                supplier.least = supplier.least.map(|least| scaled(least, LESS));
            }
            if let Some(code) = &mut rig.gasket.code {
                code.y = scaled(code.y, LESS);
                code.m = scaled(code.m, LESS);
            }
        }
        Lever::CupOffset => rig.offset = scaled(rig.offset, LESS),
        Lever::ScrewAlong => rig.bar.along = scaled(rig.bar.along, LESS),
        Lever::ScrewAcross => rig.bar.across = scaled(rig.bar.across, LESS),
        Lever::Hand => screw.hand = screw.hand.map(|hand| scaled(hand, MORE)),
        Lever::Handle => screw.lever = scaled(screw.lever, MORE),
        Lever::PinPlay => {
            for end in &mut rig.ends {
                for pair in [&mut end.upper, &mut end.lower] {
                    let (pushed_in, play) =
                        (pair.apart.low(), pair.apart.high() - pair.apart.low());
                    pair.apart = Bounds::between(pushed_in, pushed_in + play * LESS);
                    pair.off = scaled(pair.off, LESS);
                }
            }
        }
        Lever::Strength(part) => {
            for material in rig.materials.iter_mut().filter(|m| m.part == part) {
                material.yield_strength = material.yield_strength.map(|s| scaled(s, MORE));
                material.tensile_strength = material.tensile_strength.map(|s| scaled(s, MORE));
            }
        }
    }
    rig
}

/// Scaled about zero, to the double nearest: zero stays zero.
fn scaled<Q: Quantity + Mul<f64, Output = Q>>(value: Bounds<Q>, by: f64) -> Bounds<Q> {
    Bounds::between(value.low() * by, value.high() * by)
}

fn narrower<Q>(range: Bounds<Q>) -> Bounds<Q>
where
    Q: Quantity + Add<Output = Q> + Sub<Output = Q> + Mul<f64, Output = Q>,
{
    let middle = range.middle();
    Bounds::between(middle + (range.low() - middle) * LESS, middle + (range.high() - middle) * LESS)
}

/// A friction with another range, where it is given; as it was where the range does not do.
fn change(friction: &mut Option<Friction>, by: impl Fn(Bounds<f64>) -> Bounds<f64>) {
    if let Some(was) = *friction {
        let range = by(was.range());
        *friction = Some(Friction::new(range).unwrap_or(was));
    }
}
