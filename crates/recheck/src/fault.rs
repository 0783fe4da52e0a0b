//! Why a certificate or a placement is refused.

use assembly::parts::PartError;

/// The names of the continuous variables, by index.
pub const CONTINUOUS: [&str; 7] = [
    "cup offset x",
    "cup offset y",
    "outlet bearing",
    "foot shift A",
    "foot shift B",
    "bar slide",
    "lid opening",
];

/// The names of the discrete variables, by index.
pub const DISCRETE: [&str; 7] = [
    "elbow turn",
    "hole at A",
    "hole at B",
    "thickness inside at A",
    "thickness outside at A",
    "thickness inside at B",
    "thickness outside at B",
];

/// Why a certificate or a placement is refused. Lengths are millimetres, angles radians.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// Car top, kit or choice do not go together.
    #[error("cannot be re-checked: {what}")]
    Unusable {
        /// What does not.
        what: String,
    },
    /// A claim without anything that shows it.
    #[error("nothing shows {what}")]
    Unproven {
        /// What is claimed.
        what: String,
    },
    /// A part cannot be built.
    #[error("a part cannot be built: {0}")]
    Part(#[from] PartError),
    /// A name that nothing or more than one thing has.
    #[error("{what} {name:?}: {count} of that name")]
    Name {
        /// Kind of thing.
        what: &'static str,
        /// The name.
        name: String,
        /// How many have it.
        count: usize,
    },
    /// A number is infinite or none, or a range is upside down.
    #[error("{what}: not a finite number, or a range upside down")]
    NotFinite {
        /// Which.
        what: String,
    },
    /// The root box leaves placements out.
    #[error(
        "the space of {variable} is claimed to be {low} to {high}; a placement at {at} may keep \
         every rule"
    )]
    Space {
        /// Continuous variable.
        variable: &'static str,
        /// Claimed.
        low: f64,
        /// Claimed.
        high: f64,
        /// A value that is left out.
        at: f64,
    },
    /// The space of the bearing is less than a full turn.
    #[error("the space of the outlet bearing is {width} wide, less than a full turn")]
    Turn {
        /// Width, radians.
        width: f64,
    },
    /// The tree ends before its cells do.
    #[error("node {node}: missing; the tree ends after {node} nodes with {open} cells open")]
    TreeEnds {
        /// Index of the first node missing.
        node: usize,
        /// Cells without a node.
        open: usize,
    },
    /// Nodes are left when every cell has its own.
    #[error("node {node}: one too many; {count} nodes for a tree of {node}")]
    NodesLeft {
        /// Index of the first node too many.
        node: usize,
        /// All nodes.
        count: usize,
    },
    /// A variable that there is not.
    #[error("node {node}: no variable {variable}")]
    NoVariable {
        /// Node.
        node: usize,
        /// Claimed index.
        variable: usize,
    },
    /// A discrete variable is chosen again.
    #[error("node {node}: {variable} was chosen before")]
    ChosenTwice {
        /// Node.
        node: usize,
        /// Discrete variable.
        variable: &'static str,
    },
    /// A weight that is negative or no number.
    #[error("node {node}: witness {witness} has weight {weight}")]
    Weight {
        /// Node.
        node: usize,
        /// Witness.
        witness: usize,
        /// Claimed weight.
        weight: f64,
    },
    /// The weights of the margins do not add to 1, or no weight is above zero.
    #[error("node {node}: the margins' weights add to {sum}, not 1")]
    Weights {
        /// Node.
        node: usize,
        /// Their sum.
        sum: f64,
    },
    /// A witness that there is not.
    #[error("node {node}: no witness {witness}; there are {count}")]
    NoWitness {
        /// Node.
        node: usize,
        /// Claimed index.
        witness: usize,
        /// How many there are.
        count: usize,
    },
    /// A witness of another option than the cell's.
    #[error(
        "node {node}: witness {witness} holds for {variable} number {given}, the cell has \
         {chosen:?}"
    )]
    OptionDiffers {
        /// Node.
        node: usize,
        /// Witness.
        witness: usize,
        /// Discrete variable.
        variable: &'static str,
        /// The witness's option.
        given: usize,
        /// The cell's, where it has chosen.
        chosen: Option<usize>,
    },
    /// An option that there is not, or a variable given twice.
    #[error("witness {witness}: given {variable} number {option}: no such option, or given twice")]
    Given {
        /// Witness.
        witness: usize,
        /// Claimed variable.
        variable: usize,
        /// Claimed option.
        option: usize,
    },
    /// A variable is not given on which the witness depends.
    #[error("witness {witness}: depends on {variable}, which is not given")]
    GivenMissing {
        /// Witness.
        witness: usize,
        /// Discrete variable.
        variable: &'static str,
    },
    /// A part that there is not.
    #[error("witness {witness}: no part {name:?}, or more than one")]
    NoPart {
        /// Witness.
        witness: usize,
        /// Claimed name.
        name: String,
    },
    /// A body that is taken off, or does not belong to the fitting where it must.
    #[error("witness {witness}: {name:?} is taken off or not the fitting's")]
    Absent {
        /// Witness.
        witness: usize,
        /// Body.
        name: String,
    },
    /// A body that may not be there, where it must be for the claim to hold.
    #[error("witness {witness}: {name:?} is space into which nobody saw; nothing may be there")]
    Unseen {
        /// Witness.
        witness: usize,
        /// Body.
        name: String,
    },
    /// Two parts between which no gap is asked for.
    #[error("witness {witness}: no gap is asked for between {a:?} and {b:?}")]
    NoGap {
        /// Witness.
        witness: usize,
        /// First part.
        a: String,
        /// Second part.
        b: String,
    },
    /// A triangle that the mesh has not.
    #[error("witness {witness}: no triangle {triangle} on {part:?}; there are {count}")]
    NoTriangle {
        /// Witness.
        witness: usize,
        /// Part.
        part: String,
        /// Claimed index.
        triangle: u32,
        /// How many there are.
        count: usize,
    },
    /// A point off the triangle that it is said to lie on.
    #[error("witness {witness}: the point lies {found} mm off triangle {triangle} of {part:?}")]
    OffTriangle {
        /// Witness.
        witness: usize,
        /// Part.
        part: String,
        /// Claimed triangle.
        triangle: u32,
        /// Distance, mm.
        found: f64,
    },
    /// A part whose surface has holes has no inside.
    #[error("witness {witness}: the surface of {part:?} does not close")]
    Open {
        /// Witness.
        witness: usize,
        /// Part.
        part: String,
    },
    /// A point outside the part that it is said to lie in.
    #[error(
        "witness {witness}: {part:?} winds {winding} times around the point, not more than 0.5"
    )]
    Outside {
        /// Witness.
        witness: usize,
        /// Part.
        part: String,
        /// Winding number found.
        winding: f64,
    },
    /// A depth that neither point has.
    #[error("witness {witness}: claimed to be {claimed} mm deep, found {found} mm")]
    Depth {
        /// Witness.
        witness: usize,
        /// Claimed, mm.
        claimed: f64,
        /// The greater of the two points' depths, mm.
        found: f64,
    },
    /// A rectangle that may not stand for a point: its part turns, or it is not all inside.
    #[error("witness {witness}: no rectangle across {part:?} there: {why}")]
    Across {
        /// Witness.
        witness: usize,
        /// Part.
        part: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A rule that a certificate cannot use.
    #[error("witness {witness}: no rule {rule:?} for a certificate")]
    NoRule {
        /// Witness.
        witness: usize,
        /// Claimed words.
        rule: String,
    },
    /// A rule's field is missing or has no possible value.
    #[error("witness {witness}: rule {rule:?} needs {field}")]
    Field {
        /// Witness.
        witness: usize,
        /// Rule.
        rule: String,
        /// Field and what it must be.
        field: &'static str,
    },
    /// A leaf's weighted sum is above the bound somewhere in its cell, or not shown to be below.
    #[error("node {node}: claimed no more than {claimed} mm, found {found} mm in cell {cell:?}")]
    Claim {
        /// Node.
        node: usize,
        /// Claimed bound, mm; zero where a tolerance is said to be broken.
        claimed: f64,
        /// Found in part of the cell, mm.
        found: f64,
        /// That part's lower and upper corner.
        cell: Box<[[f64; 7]; 2]>,
    },
    /// A pair has less left than the claimed least.
    #[error("{a} and {b}: {found} mm left, less than the claimed least of {claimed} mm")]
    Nearer {
        /// First part.
        a: String,
        /// Second part.
        b: String,
        /// Claimed least margin's low end, mm.
        claimed: f64,
        /// Found low end, mm.
        found: f64,
    },
}
