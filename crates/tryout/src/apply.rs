//! One change by hand, and what follows from it.

use crate::ranges::{Ranges, bearing, within};
use crate::tried::Setup;
use assembly::placement::{End, Removed};
use assembly::{CarTop, Choice, Edit, Kit, rig};
use measure::Angle;

/// Why a change is not made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// An index beyond the car top or the kit.
    #[error("there is no such {0}")]
    NoSuch(&'static str),
    /// A number that is none.
    #[error("the {0} is no number")]
    NoNumber(&'static str),
    /// A number beyond what the kit's parts allow.
    #[error("the {0} is beyond what the kit allows")]
    Beyond(&'static str),
    /// A foot that is not there.
    #[error("no foot stands in {0}")]
    NoFoot(String),
    /// Two ports between which no bar can lie.
    #[error("{0} and {1} do not face away from each other, so that no bar can lie between them")]
    NotOpposed(String, String),
    /// What cannot be moved.
    #[error("there is no hinged lid to turn")]
    NoLid,
    /// A fitting or a cup of which no placement is known.
    #[error("no placement was found for {0}: review it with this kit first")]
    NotReviewed(String),
    /// Nothing is left to undo or to do again.
    #[error("there is nothing to {0}")]
    Nothing(&'static str),
    /// During an exercise the answer is not given away.
    #[error("set it right by hand; the solution can be shown instead")]
    NotNow,
}

/// What is set up after one change, within the [`Ranges`]; a number beyond is taken as the end of its
/// range.
///
/// What follows from it as in the placement search follows: the screw reaches down to the seat again
/// after every change but of the screw itself, and the feet go with their ports. Another fitting is
/// [`crate::Session`]'s to set up, which knows a placement for it.
pub fn edited(car: &CarTop, kit: &Kit, setup: &Setup, edit: &Edit) -> Result<Setup, Refused> {
    let mut next = setup.clone();
    let ranges = Ranges::of(car, kit, &setup.choice).ok_or(Refused::NoSuch("choice"))?;
    let place = &mut next.placement;
    let end = |port: usize| foot_in(car, &setup.choice, port);
    match edit {
        Edit::Fitting(fitting) => {
            let name = car.fittings.get(*fitting).map(|f| f.name.clone());
            return Err(name.map_or(Refused::NoSuch("fitting"), Refused::NotReviewed));
        }
        Edit::Cup(cup) => {
            next.choice.cup = index(*cup, kit.cups.len(), "cup")?;
            // A smaller cup still holds the centreline.
            let ranges = Ranges::of(car, kit, &next.choice).ok_or(Refused::NoSuch("cup"))?;
            let offset = ranges.offset(place.cup_offset);
            place.cup_offset = offset.ok_or(Refused::NoNumber("cup's offset"))?;
        }
        Edit::Ports(ports) => {
            let name = |port: usize| car.ports.get(port).map(|p| p.name.clone());
            let names = ports.map(name);
            let [Some(a), Some(b)] = names else { return Err(Refused::NoSuch("port")) };
            let is_pair = |pair: &[usize; 2]| *pair == *ports || [pair[1], pair[0]] == *ports;
            if !fitup::port_pairs(car).iter().any(is_pair) {
                return Err(Refused::NotOpposed(a, b));
            }
            next.choice.ports = *ports;
            let ranges = Ranges::of(car, kit, &next.choice).ok_or(Refused::NoSuch("port"))?;
            for (shift, most) in place.foot_shift.iter_mut().zip(ranges.foot_shift) {
                *shift = within(*shift, [-most, most]).ok_or(Refused::NoNumber("foot's shift"))?;
            }
            place.bar_slide = within(place.bar_slide, ranges.bar_slide)
                .ok_or(Refused::NoNumber("bar's slide"))?;
        }
        Edit::TakeOff(piece) => {
            known(car, *piece)?;
            take_off(&mut next.choice.removed, *piece);
        }
        Edit::PutBack(piece) => {
            known(car, *piece)?;
            let goes_back =
                |r: &Removed| r.fitting == piece.fitting && r.removable >= piece.removable;
            next.choice.removed.retain(|r| !goes_back(r));
        }
        Edit::CupOffset(offset) => {
            let offset = ranges.offset(*offset);
            place.cup_offset = offset.ok_or(Refused::NoNumber("cup's offset"))?;
        }
        Edit::OutletBearing(asked) => {
            place.outlet_bearing = bearing(*asked).ok_or(Refused::NoNumber("outlet's bearing"))?;
        }
        Edit::ElbowTurn(turn) => {
            let turn = kit.outlet.elbow_turns.get(*turn);
            place.elbow_turn = *turn.ok_or(Refused::NoSuch("turn of the elbow"))?;
        }
        Edit::LidOpening(asked) => {
            let range = ranges.lid_opening.ok_or(Refused::NoLid)?;
            let opening = within(asked.radians(), range.map(Angle::radians));
            place.lid_opening =
                Angle::from_radians(opening.ok_or(Refused::NoNumber("lid's opening"))?);
        }
        Edit::BarSlide(asked) => {
            let slide = within(*asked, ranges.bar_slide);
            place.bar_slide = slide.ok_or(Refused::NoNumber("bar's slide"))?;
        }
        Edit::ScrewExtension(asked) => {
            let extension = within(*asked, ranges.screw_extension);
            place.screw_extension = extension.ok_or(Refused::NoNumber("screw's extension"))?;
        }
        Edit::FootShift { port, shift } => {
            let end = end(*port)?.index();
            let most = ranges.foot_shift[end];
            let shift = within(*shift, [-most, most]);
            place.foot_shift[end] = shift.ok_or(Refused::NoNumber("foot's shift"))?;
        }
        Edit::LinkThickness { port, side, thickness } => {
            let thickness = index(*thickness, ranges.link_thicknesses, "thickness of a link")?;
            place.link_thickness[end(*port)?.index()][side.index()] = thickness;
        }
        Edit::LinkHole { port, hole } => {
            let hole = index(*hole, ranges.link_holes, "hole of a link")?;
            place.link_hole[end(*port)?.index()] = hole;
        }
    }
    if moves_seat_or_bar(edit) {
        let pose = rig::pose(kit, car, &next.choice, &next.placement);
        next.placement.screw_extension =
            pose.ok_or(Refused::NoSuch("place for the bar"))?.extension_to_seat;
    }
    Ok(next)
}

/// Whether the screw must reach down anew.
const fn moves_seat_or_bar(edit: &Edit) -> bool {
    matches!(
        edit,
        Edit::Cup(_)
            | Edit::Ports(_)
            | Edit::CupOffset(_)
            | Edit::BarSlide(_)
            | Edit::FootShift { .. }
            | Edit::LinkHole { .. }
    )
}

fn index(asked: usize, count: usize, what: &'static str) -> Result<usize, Refused> {
    if asked < count { Ok(asked) } else { Err(Refused::NoSuch(what)) }
}

fn known(car: &CarTop, piece: Removed) -> Result<(), Refused> {
    let fitting = car.fittings.get(piece.fitting).ok_or(Refused::NoSuch("fitting"))?;
    index(piece.removable, fitting.removables.len(), "piece to take off").map(|_| ())
}

/// The end whose foot stands in a port.
fn foot_in(car: &CarTop, choice: &Choice, port: usize) -> Result<End, Refused> {
    let name = &car.ports.get(port).ok_or(Refused::NoSuch("port"))?.name;
    let end = End::BOTH.into_iter().find(|end| choice.ports[end.index()] == port);
    end.ok_or_else(|| Refused::NoFoot(name.clone()))
}

/// Takes a piece off with what comes off its fitting before it; the pieces stay in the car top's order.
fn take_off(removed: &mut Vec<Removed>, piece: Removed) {
    removed.extend((0..=piece.removable).map(|removable| Removed { removable, ..piece }));
    removed.sort_unstable();
    removed.dedup();
}
