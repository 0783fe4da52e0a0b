//! What is chosen and how it is placed.

use measure::Angle;
use nalgebra::Vector2;

/// The two ends of the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum End {
    /// The end that the bar frame's +x points to.
    A,
    /// The other end.
    B,
}

impl End {
    /// Both ends.
    pub const BOTH: [Self; 2] = [Self::A, Self::B];

    /// 0 for A, 1 for B.
    pub const fn index(self) -> usize {
        match self {
            Self::A => 0,
            Self::B => 1,
        }
    }
}

/// The side of the sidewall on which a link goes up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// Inside the housing.
    Inside,
    /// Outside the housing.
    Outside,
}

impl Side {
    /// Both sides.
    pub const BOTH: [Self; 2] = [Self::Inside, Self::Outside];

    /// 0 for inside, 1 for outside.
    pub const fn index(self) -> usize {
        match self {
            Self::Inside => 0,
            Self::Outside => 1,
        }
    }
}

/// The discrete part of a rig: which fitting, cup and ports, what is off.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Choice {
    /// Index into [`crate::CarTop::fittings`].
    pub fitting: usize,
    /// Index into [`crate::Kit::cups`].
    pub cup: usize,
    /// Indices into [`crate::CarTop::ports`] of the feet at ends A and B.
    pub ports: [usize; 2],
    /// What is taken off first.
    pub removed: Vec<Removed>,
}

/// A removable piece, by its place in the car top.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Removed {
    /// Index into [`crate::CarTop::fittings`].
    pub fitting: usize,
    /// Index into that fitting's removables.
    pub removable: usize,
}

/// The numbers that pose a rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// From the fitting's centreline to the cup's axis, plate frame, mm.
    pub cup_offset: Vector2<f64>,
    /// The way the side port points.
    pub outlet_bearing: Angle,
    /// Turn of the elbow: 0 up (12 o'clock), positive clockwise seen from outside.
    pub elbow_turn: Angle,
    /// How far each foot stands from the middle of its port, along the sidewall, mm; positive is
    /// counter-clockwise seen from above (the port's facing turned by +90 degrees).
    pub foot_shift: [f64; 2],
    /// Index into [`crate::kit::Link::thicknesses`], by end and side.
    pub link_thickness: [[usize; 2]; 2],
    /// Index into [`crate::kit::Link::holes`], by end.
    pub link_hole: [usize; 2],
    /// From midway between the feet to the bar's middle, along the bar toward A, mm.
    pub bar_slide: f64,
    /// From the bar's underside down to the ball's centre, mm.
    pub screw_extension: f64,
    /// Opening of the lid.
    pub lid_opening: Angle,
}
