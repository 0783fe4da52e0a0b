//! How far a guess can be relied on.

/// How far a guess can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// There are two readings, or nothing tells plainly: it must be asked.
    Doubtful,
    /// One thing says so plainly, and nothing against it.
    Likely,
    /// Two things that do not hang together say the same.
    Sure,
}
