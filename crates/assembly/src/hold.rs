//! What the sealing mechanics ask for beside the dimensions, as the documents give it.
//!
//! Everything may be left out; nothing stands in for what is. Whoever gives one figure gives it as a
//! range whose ends are alike.

use measure::{Bounds, Force, Length, Moment, Pressure, Stress, Temperature};

/// What a kit's document says for the sealing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KitFigures {
    /// The clamp screw's thread and friction.
    pub screw: ScrewFigures,
    /// Force on the screw's handle, of all hands together, each at a tip.
    pub hand: Option<Bounds<Force>>,
    /// By how much the screw's torque may be off the one that is to be set, either way, as a share of
    /// it, within 0 to 0.9.
    pub torque_error: Option<f64>,
    /// What that rests on.
    pub torque_basis: String,
    /// What the hands' force rests on.
    pub hand_basis: String,
    /// Safety factor that the owner asks for, `>= 1`.
    pub safety_factor: Option<f64>,
    /// Where the owner asks for it.
    pub factor_basis: String,
    /// Free length of a pin, between what it joins and what secures it, once washers have taken up the
    /// rest, `>= 0`; without it a pin is taken to be free by all that it is longer than what it joins.
    pub pin_play: Option<Bounds<Length>>,
    /// Coefficient of friction between pins and what turns on them, within 0 to 1.
    pub pin_friction: Option<Bounds<f64>>,
    /// What that rests on.
    pub pin_friction_basis: String,
    /// Whether the saddles hold the links from turning about the upper pins.
    pub links_held: Option<bool>,
    /// What that rests on.
    pub links_held_basis: String,
    /// Moment of the outlet's weight on the cup about a level axis, `>= 0`.
    pub side_moment: Option<Bounds<Moment>>,
    /// What is known of gaskets, each once.
    pub gaskets: Vec<GasketFigures>,
    /// Materials, each part once.
    pub materials: Vec<Material>,
}

/// The clamp screw's thread and friction.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScrewFigures {
    /// Shape of the thread.
    pub form: Option<ThreadForm>,
    /// From one ridge to the next along the axis.
    pub pitch: Option<Bounds<Length>>,
    /// How many helices run side by side.
    pub starts: Option<u8>,
    /// Coefficient of friction in the thread, within 0 to 1.
    pub thread_friction: Option<Bounds<f64>>,
    /// Coefficient of friction between the ball and the cup's seat, within 0 to 1.
    pub tip_friction: Option<Bounds<f64>>,
    /// Radius at which that friction acts, `>= 0`, as it was measured.
    pub tip_radius: Option<Bounds<Length>>,
    /// What that radius rests on.
    pub tip_basis: String,
    /// What the friction rests on.
    pub friction_basis: String,
    /// How block and cup hold its ends against bowing.
    pub ends: Option<ScrewEnds>,
}

/// The shape of a power screw's thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ThreadForm {
    /// Flanks square to the axis.
    Square,
    /// Flanks with 30 degrees between them (ISO 2901).
    Trapezoidal,
    /// Flanks with 29 degrees between them (ASME B1.5).
    Acme,
}

impl ThreadForm {
    /// Every form.
    pub const ALL: [Self; 3] = [Self::Square, Self::Trapezoidal, Self::Acme];

    /// The word used in documents.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Square => "square",
            Self::Trapezoidal => "trapezoidal",
            Self::Acme => "acme",
        }
    }
}

/// How the ends of the screw below the block are held against bowing, the block's end first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ScrewEnds {
    /// Both held straight and in place.
    FixedFixed,
    /// One held straight, the other in place but free to turn.
    FixedPinned,
    /// Both in place and free to turn.
    PinnedPinned,
    /// One held straight, the other free to move aside.
    FixedFree,
}

impl ScrewEnds {
    /// Every way.
    pub const ALL: [Self; 4] =
        [Self::FixedFixed, Self::FixedPinned, Self::PinnedPinned, Self::FixedFree];

    /// The word used in documents.
    pub const fn word(self) -> &'static str {
        match self {
            Self::FixedFixed => "fixed-fixed",
            Self::FixedPinned => "fixed-pinned",
            Self::PinnedPinned => "pinned-pinned",
            Self::FixedFree => "fixed-free",
        }
    }
}

/// What is known of a gasket beside its dimensions.
#[derive(Debug, Clone, PartialEq)]
pub struct GasketFigures {
    /// The gasket's name.
    pub gasket: String,
    /// The boiler code's factors, where its table has the material.
    pub code: Option<GasketCode>,
    /// Contact stress that it needs at least, by its supplier.
    pub least: Option<Bounds<Stress>>,
    /// Contact stress that it bears at most, by its supplier.
    pub most: Option<Bounds<Stress>>,
    /// What the supplier's figures rest on.
    pub basis: String,
}

/// Gasket factors of the boiler code's table (ASME VIII-1, table 2-5.1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GasketCode {
    /// Rubber without fabric, below 75 on the Shore A scale.
    SoftRubber,
    /// Rubber without fabric, 75 or more on the Shore A scale.
    HardRubber,
    /// Rubber with cotton fabric.
    CottonRubber,
    /// Factors as they are written in the document.
    Factors {
        /// Contact stress to keep up, as a multiple of the pressure.
        m: Bounds<f64>,
        /// Seating stress.
        y: Bounds<Stress>,
    },
}

impl GasketCode {
    /// The materials that are known by a word.
    pub const NAMED: [(&'static str, Self); 3] = [
        ("soft rubber", Self::SoftRubber),
        ("hard rubber", Self::HardRubber),
        ("cotton rubber", Self::CottonRubber),
    ];
}

/// A part of the kit whose strength counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LoadedPart {
    /// Cup.
    Cup,
    /// Clamp screw.
    Screw,
    /// The screw's handle.
    ScrewHandle,
    /// The block that carries the screw.
    ScrewBlock,
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
}

impl LoadedPart {
    /// Every part, in the order in which the load runs.
    pub const ALL: [Self; 10] = [
        Self::Cup,
        Self::Screw,
        Self::ScrewHandle,
        Self::ScrewBlock,
        Self::Bar,
        Self::Saddle,
        Self::UpperPin,
        Self::Link,
        Self::LowerPin,
        Self::Foot,
    ];

    /// The word used in documents.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cup => "cup",
            Self::Screw => "screw",
            Self::ScrewHandle => "screw-handle",
            Self::ScrewBlock => "screw-block",
            Self::Bar => "bar",
            Self::Saddle => "saddle",
            Self::UpperPin => "upper-pin",
            Self::Link => "link",
            Self::LowerPin => "lower-pin",
            Self::Foot => "foot",
        }
    }
}

/// A part's material with what its figures rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// The part.
    pub part: LoadedPart,
    /// Its figures.
    pub strength: Strength,
}

/// Strengths with what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Strength {
    /// Yield strength, above zero.
    pub yielding: Option<Bounds<Stress>>,
    /// Tensile strength, above zero.
    pub tensile: Option<Bounds<Stress>>,
    /// Young's modulus, above zero.
    pub modulus: Option<Bounds<Stress>>,
    /// What the figures rest on.
    pub basis: String,
}

/// What a case's document says for the sealing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Service {
    /// What the car carries; `None` where the sealing is not asked for.
    pub lading: Option<Lading>,
    /// The tank.
    pub tank: Option<Tank>,
    /// The sidewall's strength.
    pub sidewall: Option<Strength>,
    /// The bolts that hold the housing to the cover plate.
    pub housing_bolts: Option<Bolts>,
    /// The bolts that hold the cover plate to the nozzle.
    pub cover_bolts: Option<Bolts>,
}

/// What the car carries, and what presses in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Lading {
    /// Name for people.
    pub name: String,
    /// Where the pressure is from; `None` where the document does not say.
    pub pressure: Option<LadingPressure>,
}

/// Where a lading's pressure is from.
#[derive(Debug, Clone, PartialEq)]
pub enum LadingPressure {
    /// A gauge pressure that the document states.
    Stated {
        /// The pressure, `>= 0`.
        gauge: Bounds<Pressure>,
        /// What it rests on.
        basis: String,
    },
    /// The vapour pressure of a known lading.
    Vapour {
        /// Which.
        fluid: Fluid,
        /// At what temperature.
        temperature: Bounds<Temperature>,
        /// Absolute pressure of the air around.
        air: Option<Bounds<Pressure>>,
    },
}

/// A lading whose vapour pressure is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fluid {
    /// Anhydrous ammonia.
    Ammonia,
    /// Chlorine.
    Chlorine,
    /// Propane.
    Propane,
    /// Normal butane.
    Butane,
    /// Isobutane.
    Isobutane,
    /// Propylene.
    Propylene,
    /// 1-Butene.
    Butene,
    /// Vinyl chloride.
    VinylChloride,
    /// Dimethyl ether.
    DimethylEther,
    /// Ethylene oxide.
    EthyleneOxide,
    /// Sulfur dioxide.
    SulfurDioxide,
    /// Hydrogen chloride.
    HydrogenChloride,
    /// Hydrogen sulfide.
    HydrogenSulfide,
    /// Carbon dioxide.
    CarbonDioxide,
}

impl Fluid {
    /// Every lading.
    pub const ALL: [Self; 14] = [
        Self::Ammonia,
        Self::Chlorine,
        Self::Propane,
        Self::Butane,
        Self::Isobutane,
        Self::Propylene,
        Self::Butene,
        Self::VinylChloride,
        Self::DimethylEther,
        Self::EthyleneOxide,
        Self::SulfurDioxide,
        Self::HydrogenChloride,
        Self::HydrogenSulfide,
        Self::CarbonDioxide,
    ];

    /// The name used in documents.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ammonia => "anhydrous ammonia",
            Self::Chlorine => "chlorine",
            Self::Propane => "propane",
            Self::Butane => "butane",
            Self::Isobutane => "isobutane",
            Self::Propylene => "propylene",
            Self::Butene => "1-butene",
            Self::VinylChloride => "vinyl chloride",
            Self::DimethylEther => "dimethyl ether",
            Self::EthyleneOxide => "ethylene oxide",
            Self::SulfurDioxide => "sulfur dioxide",
            Self::HydrogenChloride => "hydrogen chloride",
            Self::HydrogenSulfide => "hydrogen sulfide",
            Self::CarbonDioxide => "carbon dioxide",
        }
    }
}

/// The tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Tank {
    /// Its class as it is stencilled: `105J300W`.
    pub class: Option<String>,
    /// Gauge pressure stamped on its relief device, at which that starts to discharge.
    pub start_to_discharge: Option<Pressure>,
    /// What covers it.
    pub jacket: Option<Jacket>,
}

/// What covers a tank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Jacket {
    /// Nothing.
    Bare,
    /// Thermal protection.
    ThermallyProtected,
    /// Insulation.
    Insulated,
}

impl Jacket {
    /// Every cover.
    pub const ALL: [Self; 3] = [Self::Bare, Self::ThermallyProtected, Self::Insulated];

    /// The words used in documents.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bare => "none",
            Self::ThermallyProtected => "thermal protection",
            Self::Insulated => "insulation",
        }
    }
}

/// A circle of studs or bolts that are alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Bolts {
    /// How many, at least 1.
    pub count: u16,
    /// Diameter of the circle on which they stand evenly, above zero.
    pub circle: Option<Length>,
    /// Nominal diameter, above zero.
    pub diameter: Length,
    /// Pitch of the thread, above zero.
    pub pitch: Length,
    /// Shear strength of their material, above zero.
    pub shear_strength: Bounds<Stress>,
    /// What that rests on.
    pub basis: String,
}
