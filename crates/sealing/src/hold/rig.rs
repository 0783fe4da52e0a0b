//! What the mechanics need to know of a rig at its placement.

use crate::fault::Faults;
use crate::{
    Aim, Bar, Block, Cup, Cut, End, EndHold, Fault, Foot, Friction, Gasket, LinkPair, PinPlate,
    Profile, Saddle, SidePort, Thread, tilting_radius,
};
use measure::{Bounds, Force, Length, Moment, Stress};

/// A part whose strength counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// Cup.
    Cup,
    /// Clamp screw.
    Screw,
    /// The screw's handle.
    Handle,
    /// The block that carries the screw.
    Block,
    /// Clamp bar.
    Bar,
    /// Saddles.
    Saddle,
    /// Upper pins.
    UpperPin,
    /// Links.
    Link,
    /// Lower pins.
    LowerPin,
    /// Feet.
    Foot,
    /// The housing's sidewall at the port's edge.
    Sidewall,
}

impl Part {
    /// Every part, in the order in which the load runs.
    pub const ALL: [Self; 11] = [
        Self::Cup,
        Self::Screw,
        Self::Handle,
        Self::Block,
        Self::Bar,
        Self::Saddle,
        Self::UpperPin,
        Self::Link,
        Self::LowerPin,
        Self::Foot,
        Self::Sidewall,
    ];

    /// The word used in output.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cup => "cup",
            Self::Screw => "screw",
            Self::Handle => "screw handle",
            Self::Block => "screw block",
            Self::Bar => "bar",
            Self::Saddle => "saddle",
            Self::UpperPin => "upper pin",
            Self::Link => "link",
            Self::LowerPin => "lower pin",
            Self::Foot => "foot",
            Self::Sidewall => "sidewall",
        }
    }
}

/// What is known of a part's material. What is not known stays `None`; nothing stands in for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Which part.
    pub part: Part,
    /// Yield strength.
    pub yield_strength: Option<Bounds<Stress>>,
    /// Tensile strength.
    pub tensile_strength: Option<Bounds<Stress>>,
    /// Young's modulus.
    pub modulus: Option<Bounds<Stress>>,
    /// What the figures rest on.
    pub basis: String,
}

/// The clamp screw with its handle and the hand on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Screw {
    /// Outside diameter of its thread.
    pub diameter: Bounds<Length>,
    /// Shape of the thread.
    pub profile: Option<Profile>,
    /// Distance from one ridge to the next along the axis.
    pub pitch: Option<Bounds<Length>>,
    /// How many helices run side by side, at least 1.
    pub starts: Option<u8>,
    /// Friction in the thread.
    pub thread_friction: Option<Friction>,
    /// Radius at which friction acts at the tip: as measured, or [`crate::ball_of_any_fit`].
    pub pivot_radius: Option<Bounds<Length>>,
    /// Diameter on which the tip bears on the cup's seat: [`crate::socket_mouth`].
    pub tip: Bounds<Length>,
    /// Friction at the tip.
    pub pivot_friction: Option<Friction>,
    /// Diameter of the ball.
    pub ball: Bounds<Length>,
    /// From the block to the ball's centre.
    pub extension: Bounds<Length>,
    /// How block and cup hold the screw's ends against bowing.
    pub held: Option<EndHold>,
    /// From the screw's axis to the middle of the hand, half a hand short of the handle's tip.
    pub lever: Bounds<Length>,
    /// Diameter of the handle's rod.
    pub rod: Bounds<Length>,
    /// What one hand gives.
    pub hand: Option<Bounds<Force>>,
    /// By how much the torque may be off the one that is to be set, either way, as a share of it:
    /// `>= 0`, below 1.
    pub torque_error: Option<f64>,
}

impl Screw {
    /// Its thread, or everything that is not given of it.
    pub fn thread(&self) -> Result<Thread, Vec<Fault>> {
        if let (Some(profile), Some(pitch), Some(starts)) = (self.profile, self.pitch, self.starts)
        {
            return Ok(Thread { profile, diameter: self.diameter, pitch, starts, cut: Cut::Made });
        }
        let remedy = "give it; no usual thread stands in for it";
        let missing =
            |is_given: bool, name: &'static str| (!is_given).then(|| Fault::missing(name, remedy));
        let all = [
            missing(self.profile.is_some(), "form of the screw's thread"),
            missing(self.pitch.is_some(), "pitch of the screw's thread"),
            missing(self.starts.is_some(), "number of the screw's thread starts"),
        ];
        Err(all.into_iter().flatten().collect())
    }

    /// Friction at its tip, or that it is not given.
    fn pivot_friction(&self) -> Result<Friction, Fault> {
        self.pivot_friction.ok_or_else(|| {
            Fault::missing(
                "friction at the screw's tip",
                "give its range; no usual value stands in for it",
            )
        })
    }

    /// How far from the ball's centre friction in its seat lets the load pass, either way. Faults: friction
    /// or where it acts is not given.
    pub fn tilting(&self) -> Result<Bounds<Length>, Fault> {
        let friction = self.pivot_friction()?;
        let turning = self.pivot_radius.ok_or_else(|| {
            Fault::missing(
                "radius at which the screw's tip rubs",
                "measure it: in so deep a seat a ball may wedge",
            )
        })?;
        let tilting = tilting_radius(self.ball, turning) * friction.range();
        // No friction at all is nought, whatever rounding makes of it.
        Ok(tilting.max(Bounds::exactly(Length::from_mm(0.0))))
    }
}

/// The sizes that links share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkShape {
    /// Width.
    pub width: Bounds<Length>,
    /// Diameter of the holes.
    pub hole: Bounds<Length>,
    /// From the outermost holes' centres to the ends, which are round.
    pub edge: Bounds<Length>,
    /// Least distance between two neighbouring holes' centres.
    pub spacing: Bounds<Length>,
}

/// What stands at one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigEnd {
    /// The two links on the upper pin.
    pub upper: LinkPair,
    /// The same two on the lower pin.
    pub lower: LinkPair,
    /// Thickness of the sidewall under the foot.
    pub wall: Bounds<Length>,
}

/// A rig at its placement. Lengths with their tolerances; loads and pressures are no part of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// The gasket.
    pub gasket: Gasket,
    /// Distance between the load's line and the cup's axis at the gasket's face while the bar is
    /// straight, `>= 0`: [`crate::Hang::offset`].
    pub offset: Bounds<Length>,
    /// How much the load's line leans against the screw while the bar is straight, as run over rise,
    /// `>= 0`: [`crate::Hang::lean`].
    pub lean: Bounds<f64>,
    /// Height above the gasket's face of the ball's centre, about which the screw leans, `>= 0`.
    pub seat_height: Bounds<Length>,
    /// Whether the saddles hold the links from turning about the upper pins. Bar and screw stand on the ball
    /// then as one body with the links, as [`crate::Hang`] has it; otherwise the bar rolls over the ball
    /// while the screw is turned, whose friction holds nothing meanwhile.
    pub links_held: Option<bool>,
    /// Friction between pins and what turns on them.
    pub pin_friction: Option<Friction>,
    /// Moment on the cup that does not come from the screw: [`Aim::side_moment`].
    pub side_moment: Option<Bounds<Moment>>,
    /// The cup.
    pub cup: Cup,
    /// The cup's side port, where it has one.
    pub side_port: Option<SidePort>,
    /// The screw.
    pub screw: Screw,
    /// The block that carries it.
    pub block: Block,
    /// The bar.
    pub bar: Bar,
    /// The saddles.
    pub saddle: Saddle,
    /// Diameter of the upper pins.
    pub upper_pin: Bounds<Length>,
    /// The links.
    pub link: LinkShape,
    /// Diameter of the lower pins.
    pub lower_pin: Bounds<Length>,
    /// The feet.
    pub foot: Foot,
    /// Ends A and B.
    pub ends: [RigEnd; 2],
    /// Materials, as far as known.
    pub materials: Vec<Material>,
    /// Safety factor that the owner asks for, at least 1.
    pub required_factor: f64,
}

impl Rig {
    /// How the screw's load falls on the cup when it is `load` and has bent the bar: the screw leans with
    /// it, to whichever side. Fault: the bar's modulus is not given where it matters.
    pub fn aim_under(&self, load: Bounds<Force>) -> Result<Aim, Fault> {
        let aim = self.aim()?;
        let none = Length::from_mm(0.0);
        if self.bar.along.abs().high() <= none {
            return Ok(aim);
        }
        let most = aim.offset + self.seat_height * self.bar_lean(load)?;
        Ok(Aim { offset: Bounds::between(none, most.high()), ..aim })
    }

    /// How much a `load` leans the bar at the screw, to whichever side. Fault: as of
    /// [`Rig::aim_under`].
    fn bar_lean(&self, load: Bounds<Force>) -> Result<Bounds<f64>, Fault> {
        if self.bar.along.abs().high() <= Length::from_mm(0.0) {
            return Ok(Bounds::exactly(0.0));
        }
        Ok(self.bar.slope_at_screw(load, self.modulus(Part::Bar)?).abs())
    }

    /// How far off its own axis the screw is pressed by a `load`: as far as it leans over its free
    /// length, and as the ball's friction holds it from turning in its seat. Faults: what is not given.
    pub fn screw_off(&self, load: Bounds<Force>) -> Result<Bounds<Length>, Fault> {
        let lean = self.lean + self.bar_lean(load)?;
        let most = self.screw.extension * lean + self.screw.tilting()?;
        Ok(Bounds::between(Length::from_mm(0.0), most.high()))
    }

    /// How the screw's load falls on the cup while the bar is straight. Faults: the side moment is not
    /// given, or what the ball's friction adds.
    pub fn aim(&self) -> Result<Aim, Fault> {
        let side_moment = self.side_moment.ok_or_else(|| {
            Fault::missing("side moment of the outlet", "give it; zero where there is none")
        })?;
        self.screw.tilting()?;
        self.pin_friction()?;
        Ok(Aim { offset: self.offset, side_moment })
    }

    /// Friction in the pins, or that it is not given.
    pub(super) fn pin_friction(&self) -> Result<Friction, Fault> {
        self.pin_friction.ok_or_else(|| {
            Fault::missing(
                "friction of the pins",
                "give its range; no usual value stands in for it",
            )
        })
    }

    /// What is wrong with how the bar is kept from rolling over the ball; nothing where the saddles hold the
    /// links.
    pub fn rolls(&self) -> Option<Fault> {
        const WHAT: &str = "hold of the links in the saddles";
        match self.links_held {
            Some(true) => None,
            Some(false) => {
                let remedy = "the bar may roll sideways over the ball while the screw is turned: hold the \
                              links from turning about the upper pins";
                Some(Fault::out_of_range(WHAT, "none", remedy))
            }
            None => {
                Some(Fault::missing(WHAT, "say whether the links can turn about the upper pins"))
            }
        }
    }

    /// What stands at an end.
    pub const fn end(&self, end: End) -> &RigEnd {
        let [a, b] = &self.ends;
        match end {
            End::A => a,
            End::B => b,
        }
    }

    /// A link's end at a pin, `thickness` thick, with whatever hole is nearest beyond.
    pub fn link_plate(&self, thickness: Bounds<Length>, pin: Bounds<Length>) -> PinPlate {
        let LinkShape { width, hole, edge, spacing } = self.link;
        PinPlate { width, thickness, hole, edge, pin, next: Some(spacing), round: true }
    }

    /// Everything that is wrong with it: sizes that are not positive, parts that do not go
    /// together, a screw outside the links, strengths that are not positive. What is merely not
    /// given is no fault.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.not_negative("distance of the screw from the cup's axis", self.offset);
        faults.not_negative("height of the cup's seat", self.seat_height);
        if !self.lean.is_finite() || self.lean.low() < 0.0 {
            let remedy = "give how far the screw leans over a length, zero or more";
            faults.push(Fault::out_of_range("lean of the screw", self.lean, remedy));
        }
        faults.positive("ball diameter", self.screw.ball);
        if let Some(moment) = self.side_moment {
            faults.not_negative("side moment on the cup", moment);
        }
        if let Some(radius) = self.screw.pivot_radius {
            faults.not_negative("radius at which the screw's tip rubs", radius);
        }
        faults.positive("diameter of the screw's tip", self.screw.tip);
        faults.not_negative("screw extension", self.screw.extension);
        faults.positive("thread diameter", self.screw.diameter);
        faults.positive("handle lever", self.screw.lever);
        faults.positive("handle rod", self.screw.rod);
        faults.positive("upper pin diameter", self.upper_pin);
        if let Some(error) = self.screw.torque_error.filter(|e| !(0.0..1.0).contains(e)) {
            let remedy = "give it as a share of the torque, below 1";
            faults.push(Fault::out_of_range("error of the set torque", error, remedy));
        }
        if let Some(hand) = self.screw.hand {
            faults.positive("hand force", hand);
        }
        if !(self.required_factor.is_finite() && self.required_factor >= 1.0) {
            let remedy = "give the safety factor that the owner asks for, 1 or more";
            faults.push(Fault::out_of_range(
                "required safety factor",
                self.required_factor,
                remedy,
            ));
        }
        for material in &self.materials {
            let figures = [
                ("yield strength", material.yield_strength),
                ("tensile strength", material.tensile_strength),
                ("modulus", material.modulus),
            ];
            for (name, figure) in figures {
                let wrong = |f: Bounds<Stress>| !f.is_finite() || f.low() <= Stress::from_mpa(0.0);
                if let Some(figure) = figure.filter(|f| wrong(*f)) {
                    faults.push(Fault::out_of_range(
                        format!("{name} of the {}", material.part.word()),
                        figure,
                        "give a finite strength above zero, or leave it out where it is not known",
                    ));
                }
            }
        }
        let mut faults = faults.gathered();
        faults.extend(self.gasket.faults());
        faults.extend(self.cup.faults());
        faults.extend(self.side_port.iter().flat_map(|port| port.faults(&self.cup)));
        faults.extend(self.screw.thread().iter().flat_map(Thread::faults));
        faults.extend(self.bar.faults());
        faults.extend(self.block.faults(&self.bar, self.screw.diameter));
        faults.extend(self.saddle.faults(&self.bar, self.upper_pin));
        for end in &self.ends {
            faults.extend(end.upper.faults(self.saddle.length));
            faults.extend(end.lower.faults(self.foot.depth));
            faults.extend(self.foot.faults(end.wall, end.lower.apart, self.lower_pin));
            for (links, pin) in [(end.upper, self.upper_pin), (end.lower, self.lower_pin)] {
                for thickness in [links.inside, links.outside] {
                    faults.extend(self.link_plate(thickness, pin).faults());
                }
            }
        }
        let mut told = Vec::new();
        for fault in faults {
            if !told.contains(&fault) {
                told.push(fault);
            }
        }
        told
    }

    /// A material's figure, or what is missing.
    fn figure(
        &self,
        part: Part,
        name: &str,
        of: impl Fn(&Material) -> Option<Bounds<Stress>>,
    ) -> Result<Bounds<Stress>, Fault> {
        self.materials.iter().filter(|m| m.part == part).find_map(of).ok_or_else(|| {
            Fault::missing(
                format!("{name} of the {}", part.word()),
                "give it with what it rests on; no default material stands in for it",
            )
        })
    }

    /// A part's yield strength.
    pub fn yield_strength(&self, part: Part) -> Result<Bounds<Stress>, Fault> {
        self.figure(part, "yield strength", |m| m.yield_strength)
    }

    /// A part's tensile strength.
    pub fn tensile_strength(&self, part: Part) -> Result<Bounds<Stress>, Fault> {
        self.figure(part, "tensile strength", |m| m.tensile_strength)
    }

    /// A part's Young's modulus.
    pub fn modulus(&self, part: Part) -> Result<Bounds<Stress>, Fault> {
        self.figure(part, "modulus", |m| m.modulus)
    }
}
