//! The kit: what its owner measured, before any of it is placed.

use crate::hold::KitFigures;
use measure::{Angle, LengthUnit, Stack};

/// A measured dimension in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dim {
    /// Nominal value, mm.
    pub nominal: f64,
    /// The true value lies within `nominal ± tolerance`, mm, `>= 0`.
    pub tolerance: f64,
}

impl Dim {
    /// Its tolerance as a cause of deviation, by the dimension's name.
    pub fn off(&self, name: &'static str) -> Stack {
        Stack::of(name, self.tolerance)
    }
}

/// The stack of whichever of some dimensions has the widest tolerance.
pub fn widest(dims: &[Dim], name: &'static str) -> Stack {
    dims.iter().map(|d| d.off(name)).fold(Stack::none(), Stack::or)
}

/// A set of capping parts with its rules.
#[derive(Debug, Clone, PartialEq)]
pub struct Kit {
    /// Title for people.
    pub title: String,
    /// Unit in which the owner reads lengths.
    pub unit: LengthUnit,
    /// Greatest chord error with which curved parts are meshed, mm.
    pub chord_error: f64,
    /// Gaps asked for, tolerances of placing.
    pub rules: Rules,
    /// Cups, smallest first.
    pub cups: Vec<Cup>,
    /// Gaskets.
    pub gaskets: Vec<Gasket>,
    /// What is screwed into a cup's side port.
    pub outlet: Outlet,
    /// The clamp bar.
    pub bar: Bar,
    /// Rides on the bar and hangs between the links; carries the upper pin.
    pub saddle: Saddle,
    /// The links.
    pub link: Link,
    /// The feet.
    pub foot: Foot,
    /// Joins links and foot.
    pub lower_pin: Pin,
    /// Joins links and saddle.
    pub upper_pin: Pin,
    /// The clamp screw.
    pub screw: Screw,
    /// What the sealing mechanics ask for, where known.
    pub hold: KitFigures,
    /// Installation, in order.
    pub steps: Vec<Step>,
}

/// Gaps asked for and tolerances of placing. All millimetres unless said.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Gap asked for between two kinds of parts that no other line names.
    pub need_otherwise: f64,
    /// Gap asked for between two kinds of parts, in either order.
    pub needs: Vec<Need>,
    /// Plan check: least distance seen from above between a fitting's flange edge and other
    /// flange edges, stud nuts and the sidewall.
    pub plan_spacing: f64,
    /// Land: greatest departure of the plate from its best-fit plane under the gasket.
    pub land_flatness: f64,
    /// Land: least continuous radial width of bare flat plate under the gasket, all the way round.
    pub land_seal_width: f64,
    /// Screw: greatest distance between the cup's axis and the bar's centre line.
    pub screw_offset: f64,
    /// Screw: greatest departure from square over the cup, as rise over the bar's span between the
    /// links.
    pub bar_level: f64,
    /// Bar: greatest difference between the two overhangs.
    pub overhang_difference: f64,
    /// Links: greatest lean, as the distance between upper and lower pin seen from above.
    pub link_lean: f64,
    /// Feet: greatest angle between a port's facing and the bar's line.
    pub foot_skew: Angle,
    /// Pins: free length asked for beyond a pin's head when it is drawn, for the hand.
    pub pin_hand_room: f64,
    /// Parts that touch by design may overlap or stand apart by this much.
    pub contact: f64,
    /// Lowering: clearance asked for between a part on its way to its place and what is there
    /// already.
    pub path_clearance: f64,
    /// Access: the room that a gloved hand takes, as width across the fingers, height through the
    /// palm, and depth along the fingers.
    pub hand_room: [f64; 3],
}

impl Rules {
    /// [`Rules::path_clearance`] where the document gives none: common practice, no source.
    pub const PATH_CLEARANCE: f64 = 1.0;
    /// [`Rules::hand_room`] where the document gives none: the opening for a flat gloved hand to the
    /// wrist in MIL-STD-1472, 6 in wide and 4 in high (from memory); 4 in along the fingers, common
    /// practice, no source.
    pub const HAND_ROOM: [f64; 3] = [152.4, 101.6, 101.6];

    /// The gap asked for between two kinds of parts, mm.
    pub fn need(&self, a: PartKind, b: PartKind) -> f64 {
        self.needs
            .iter()
            .find(|n| n.between == (a, b) || n.between == (b, a))
            .map_or(self.need_otherwise, |n| n.gap)
    }
}

/// One line of the table of needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Need {
    /// The two kinds, in either order.
    pub between: (PartKind, PartKind),
    /// Gap asked for, mm.
    pub gap: f64,
}

/// Kinds of parts, on the kit's side and on the car's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PartKind {
    /// Cup.
    Cup,
    /// Gasket.
    Gasket,
    /// Elbow, nipples, valve.
    Outlet,
    /// The space the outlet valve's handle sweeps.
    OutletHandle,
    /// Clamp bar.
    Bar,
    /// Saddle.
    Saddle,
    /// Link.
    Link,
    /// Foot.
    Foot,
    /// Pin.
    Pin,
    /// The space in which a pin is pushed in and drawn.
    PinPath,
    /// Clamp screw with its ball.
    Screw,
    /// The block that carries the screw in the bar.
    ScrewBlock,
    /// The space the screw's handle sweeps.
    ScrewHandle,
    /// Cover plate.
    Plate,
    /// Protective housing.
    Housing,
    /// Port cover.
    PortCover,
    /// Housing lid.
    Lid,
    /// Hinge lugs and pin.
    Hinge,
    /// Studs with their nuts.
    Stud,
    /// A fitting or one of its removables.
    Fitting,
}

impl PartKind {
    /// Every kind, in the order of declaration.
    pub const ALL: [Self; 20] = [
        Self::Cup,
        Self::Gasket,
        Self::Outlet,
        Self::OutletHandle,
        Self::Bar,
        Self::Saddle,
        Self::Link,
        Self::Foot,
        Self::Pin,
        Self::PinPath,
        Self::Screw,
        Self::ScrewBlock,
        Self::ScrewHandle,
        Self::Plate,
        Self::Housing,
        Self::PortCover,
        Self::Lid,
        Self::Hinge,
        Self::Stud,
        Self::Fitting,
    ];

    /// The word used in documents and output.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cup => "cup",
            Self::Gasket => "gasket",
            Self::Outlet => "outlet",
            Self::OutletHandle => "outlet-handle",
            Self::Bar => "bar",
            Self::Saddle => "saddle",
            Self::Link => "link",
            Self::Foot => "foot",
            Self::Pin => "pin",
            Self::PinPath => "pin-path",
            Self::Screw => "screw",
            Self::ScrewBlock => "screw-block",
            Self::ScrewHandle => "screw-handle",
            Self::Plate => "plate",
            Self::Housing => "housing",
            Self::PortCover => "port-cover",
            Self::Lid => "lid",
            Self::Hinge => "hinge",
            Self::Stud => "stud",
            Self::Fitting => "fitting",
        }
    }
}

/// An open-bottomed cylinder with a crown, a seat for the screw's ball and a side port.
///
/// Cup frame: origin on the cup's axis on the sealing face, +z up, +x along the side port.
#[derive(Debug, Clone, PartialEq)]
pub struct Cup {
    /// Name for people.
    pub name: String,
    /// Inside diameter.
    pub inside_diameter: Dim,
    /// Thickness of the wall.
    pub wall: Dim,
    /// From the rim's lower edge to the underside of the crown.
    pub inside_height: Dim,
    /// Thickness of the crown.
    pub crown: Dim,
    /// Diameter of the boss on the crown that holds the seat.
    pub seat_diameter: Dim,
    /// Height of that boss above the crown.
    pub seat_height: Dim,
    /// Depth of the spherical socket below the boss's top. Its radius is the screw ball's.
    pub seat_depth: Dim,
    /// Height of the side port's axis above the rim's lower edge.
    pub port_height: Dim,
    /// Outside diameter of the side port's boss.
    pub port_diameter: Dim,
    /// Bore of the side port.
    pub port_bore: Dim,
    /// Distance from the cup's axis to the face of the side port's boss.
    pub port_face: Dim,
    /// Name of the gasket that goes under the rim.
    pub gasket: String,
}

/// A flat ring with a groove in its upper face for the rim. Lies in the cup frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Gasket {
    /// Name for people.
    pub name: String,
    /// Inside diameter.
    pub inside_diameter: Dim,
    /// Outside diameter.
    pub outside_diameter: Dim,
    /// Thickness as pressed.
    pub thickness: Dim,
    /// Depth of the groove in which the rim sits.
    pub groove_depth: Dim,
}

/// Port nipple, elbow, riser nipple and shutoff valve with its handle.
///
/// Outlet frame: origin at the centre of the side port boss's face, +x away from the cup along the
/// port's axis; with no elbow turn the riser goes up along +z. Positive elbow turn is clockwise
/// seen from outside looking at the cup along the port's axis: +30 degrees is 1 o'clock, -30
/// degrees 11 o'clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlet {
    /// Outside diameter of pipe and nipples.
    pub pipe_diameter: Dim,
    /// Length of the port nipple that shows between boss and elbow.
    pub port_nipple: Dim,
    /// Elbow: centre to end (dimension A of the elbow's standard).
    pub elbow_centre_to_end: Dim,
    /// Elbow: outside diameter of the bands (dimension H).
    pub elbow_band: Dim,
    /// Length of the riser nipple that shows between elbow and valve.
    pub riser_nipple: Dim,
    /// End to end length of the valve.
    pub valve_length: Dim,
    /// Outside diameter of the valve's body.
    pub valve_diameter: Dim,
    /// From the pipe's axis to the handle's underside, along the stem. The stem points away from
    /// the cup.
    pub stem_height: Dim,
    /// From the stem's axis to the handle's tip.
    pub handle_length: Dim,
    /// Width of the handle.
    pub handle_width: Dim,
    /// Thickness of the handle.
    pub handle_thickness: Dim,
    /// How far the handle swings, from along the riser (open, tip away from the elbow); positive is
    /// clockwise seen from outside looking at the cup, as for the elbow's turn.
    pub handle_swing: Angle,
    /// The turns of the elbow that the kit's owner allows.
    pub elbow_turns: Vec<Angle>,
}

/// Two rails with a slot between them, joined at both ends.
///
/// Bar frame: origin at mid-length on the underside on the centre line, +x along the bar toward
/// end A, +z up.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Overall length.
    pub length: Dim,
    /// Width of one rail.
    pub rail_width: Dim,
    /// Height of the rails.
    pub rail_height: Dim,
    /// Width of the slot.
    pub slot: Dim,
    /// Length of the solid piece that joins the rails at each end.
    pub end: Dim,
}

/// A T-shaped block that rides on both rails; its stem hangs through the slot between the two
/// links and carries the upper pin.
///
/// Saddle frame: origin on the upper pin's axis in the middle of the stem, +x along the bar
/// outward, +z up.
#[derive(Debug, Clone, PartialEq)]
pub struct Saddle {
    /// Length along the bar.
    pub length: Dim,
    /// Width of the stem across the bar.
    pub stem_width: Dim,
    /// Width of the top across the bar.
    pub top_width: Dim,
    /// Height of the top above the rails.
    pub top_height: Dim,
    /// From the bar's underside down to the upper pin's axis.
    pub pin_drop: Dim,
    /// From the upper pin's axis down to the stem's lower end.
    pub edge: Dim,
    /// Hole for the upper pin.
    pub hole: Dim,
}

/// A flat bar with one lower hole and several upper holes.
///
/// Link frame: origin at the lower hole's centre at mid-thickness, +z along the link upward, +x
/// through its thickness, outward.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Width.
    pub width: Dim,
    /// Thicknesses at hand, thickest first.
    pub thicknesses: Vec<Dim>,
    /// Hole diameter.
    pub hole: Dim,
    /// Distances from the lower hole to each upper hole, shortest first.
    pub holes: Vec<Dim>,
    /// From the outermost holes' centres to the link's rounded ends.
    pub edge: Dim,
}

/// A block that goes through a port and bears upward against its upper edge; bored for the lower
/// pin.
///
/// Foot frame: origin on the lower pin's axis at mid-depth, +x outward along the bar's line, +z up.
#[derive(Debug, Clone, PartialEq)]
pub struct Foot {
    /// Depth through the sidewall.
    pub depth: Dim,
    /// Width in the port.
    pub width: Dim,
    /// Height.
    pub height: Dim,
    /// From the pin's axis up to the face that bears against the port's upper edge.
    pub seat: Dim,
    /// Hole for the lower pin.
    pub hole: Dim,
}

/// A round pin with a head at its outer end and room for a cotter at its inner end.
///
/// Pin frame: origin on the axis midway between the two links, +x outward.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Shank diameter.
    pub diameter: Dim,
    /// Length under the head.
    pub length: Dim,
    /// Head diameter.
    pub head_diameter: Dim,
    /// Head thickness.
    pub head_thickness: Dim,
    /// Whether it is pushed in on the car (its path is checked) or beforehand.
    pub fitted_on_car: bool,
}

/// The clamp screw with its ball tip, handle and block.
///
/// Screw frame: origin at the ball's centre, +z up. The block lies in the bar frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Screw {
    /// Outside diameter of the thread.
    pub diameter: Dim,
    /// Diameter of the ball.
    pub ball_diameter: Dim,
    /// From the ball's centre to the screw's upper end.
    pub length: Dim,
    /// Least distance from the bar's underside down to the ball's centre: fully retracted.
    pub retracted: Dim,
    /// Travel from there.
    pub travel: Dim,
    /// Length of the handle from tip to tip.
    pub handle_length: Dim,
    /// Diameter of the handle's rod.
    pub handle_diameter: Dim,
    /// From the screw's upper end down to the handle's axis.
    pub handle_drop: Dim,
    /// Block: length along the bar.
    pub block_length: Dim,
    /// Block: width across the bar, under the rails.
    pub block_width: Dim,
    /// Block: height under the rails.
    pub block_height: Dim,
}

/// One step of the installation.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Which part moves; every one of its kind that is not in its place yet, one after the other.
    pub part: PartKind,
    /// Kinds of parts that go with it, made up beforehand.
    pub with: Vec<PartKind>,
    /// How it moves.
    pub motion: Motion,
    /// What to tell the crew.
    pub text: String,
}

/// How a part reaches its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Motion {
    /// Straight down.
    Lower,
    /// Pushed along its axis.
    Push,
    /// Swung up from below.
    Swing,
    /// Turned as a screw.
    Turn,
    /// Seated from the side.
    Seat,
}
