//! The units that mesh files are written in.

/// A unit of length in which a mesh file's coordinates are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeshUnit {
    /// Millimetres.
    Millimetre,
    /// Inches.
    Inch,
    /// Centimetres.
    Centimetre,
    /// Metres.
    Metre,
    /// Feet.
    Foot,
    /// Micrometres; only a file says so of itself.
    Micrometre,
}

impl MeshUnit {
    /// Those that a document or a command line may state.
    pub const STATED: [Self; 5] =
        [Self::Millimetre, Self::Inch, Self::Centimetre, Self::Metre, Self::Foot];

    /// As it is written: `mm`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Centimetre => "cm",
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::Micrometre => "um",
        }
    }

    /// Its name for people, in the plural.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Inch => "inches",
            Self::Centimetre => "centimetres",
            Self::Metre => "metres",
            Self::Foot => "feet",
            Self::Micrometre => "micrometres",
        }
    }

    /// Millimetres a unit.
    pub const fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => 25.4,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Foot => 304.8,
            Self::Micrometre => 0.001,
        }
    }
}
