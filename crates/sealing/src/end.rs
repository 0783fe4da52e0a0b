//! The two ends of the rig.

use std::fmt;

/// One of the bar's two ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum End {
    /// The end along the bar's own +x.
    A,
    /// The other end.
    B,
}

impl End {
    /// Both ends, A first.
    pub const BOTH: [Self; 2] = [Self::A, Self::B];
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::A => "A",
            Self::B => "B",
        })
    }
}
