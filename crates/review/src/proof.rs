//! The certificate of a placement search as it is written down: what it claims, over which space,
//! by which witnesses. `overcup verify` re-checks it by other code.

use crate::record::Removed;
use assembly::rig::RigPart;
use assembly::{CarTop, Choice};
use fitup::Part;
use fitup::search::witness::{self, Law, Points};
use fitup::search::{self, Proof};
use serde::{Deserialize, Serialize};

/// That no placement of one choice has a least margin above a bound.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// The two ports, A first.
    pub ports: [String; 2],
    /// What is off.
    pub removed: Vec<Removed>,
    /// Which end of the margins the bound is about.
    pub sense: Sense,
    /// No placement that keeps the tolerance rules has a least margin, at that end, above this.
    pub bound_mm: f64,
    /// The box of the continuous variables: offset x and y, mm; outlet bearing, radians; foot shifts
    /// A and B and bar slide, mm; lid opening, radians.
    pub space: Space,
    /// Upper bounds of single margins, each of which holds over the whole space.
    pub witnesses: Vec<Witness>,
    /// The cells of the space, in pre-order.
    pub nodes: Vec<Node>,
}

/// The two ends of a margin's interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// The margin in the worst case of the deviations: above zero, it surely fits.
    Low,
    /// The margin in the best case: below zero, it surely does not fit.
    High,
}

/// A box.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Space {
    /// Lower corner.
    pub low: [f64; 7],
    /// Upper corner.
    pub high: [f64; 7],
}

/// A node of the tree of cells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Node {
    /// The cell is cut at the middle of a continuous variable: lower half first.
    Halve(usize),
    /// One cell for each option of a discrete variable.
    Choose(usize),
    /// The cell is bounded by these witnesses with these weights.
    Leaf(Vec<(usize, f64)>),
}

/// An upper bound of one margin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Witness {
    /// Discrete variables on which it depends, each with the option for which it holds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub given: Vec<(usize, usize)>,
    /// What it rests on.
    pub by: Ground,
}

/// What a witness rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ground {
    /// A point on each of two parts: the gap is no more than their distance.
    Gap(GapGround),
    /// A point in or on each of two parts, and how deep one of them lies.
    Overlap(OverlapGround),
    /// A placing rule.
    Rule(RuleGround),
}

/// Two points on two surfaces, each in its part's frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GapGround {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// On the first, in its frame.
    pub on_a: [f64; 3],
    /// On the second, in its frame.
    pub on_b: [f64; 3],
    /// The triangles that the points lie on.
    pub triangles: [u32; 2],
}

/// A point in or on each of two parts, in the frame of each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverlapGround {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// In the first, in its frame.
    pub on_a: [f64; 3],
    /// In the second, in its frame.
    pub on_b: [f64; 3],
    /// One of the two is at least this far from its part's surface; the first, with `across`.
    pub depth: f64,
    /// Instead of the second point a rectangle around it, all of which lies in the second part: the
    /// two ways from its middle to its sides. That part does not turn, or it turns with the line of
    /// the feet and the first does not move.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub across: Option<[[f64; 3]; 2]>,
}

/// A placing rule and which piece of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleGround {
    /// The rule's words.
    pub rule: String,
    /// End of the bar: 0 for A, 1 for B.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end: Option<usize>,
    /// Which side of an absolute value, 1 or -1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign: Option<f64>,
    /// The same for a foot's turn out of square, where a rule has both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub skew_sign: Option<f64>,
    /// Body of the fitting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body: Option<String>,
    /// Vertex of that body.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vertex: Option<usize>,
    /// Unit vector seen from above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub toward: Option<[f64; 2]>,
}

impl Certificate {
    /// Writes a proof down.
    pub fn of(proof: &Proof, choice: &Choice, car: &CarTop) -> Option<Self> {
        let port = |p: usize| car.ports.get(p).map(|port| port.name.clone());
        let removed = choice.removed.iter().map(|r| {
            let fitting = car.fittings.get(r.fitting)?;
            let piece = fitting.removables.get(r.removable)?.name.clone();
            Some(Removed { fitting: fitting.name.clone(), piece })
        });
        Some(Self {
            ports: [port(choice.ports[0])?, port(choice.ports[1])?],
            removed: removed.collect::<Option<_>>()?,
            sense: match proof.sense {
                witness::Sense::Low => Sense::Low,
                witness::Sense::High => Sense::High,
            },
            bound_mm: proof.claim(),
            space: Space { low: proof.space.low, high: proof.space.high },
            witnesses: proof.witnesses.iter().map(|w| Witness::of(w, car)).collect(),
            nodes: proof.nodes.iter().map(Node::of).collect(),
        })
    }
}

/// Discrete variables with their options, where they have one.
fn options(chosen: &[Option<usize>]) -> Vec<(usize, usize)> {
    chosen.iter().enumerate().filter_map(|(d, option)| Some((d, (*option)?))).collect()
}

impl Node {
    fn of(node: &search::Node) -> Self {
        match node {
            search::Node::Halve(k) => Self::Halve(*k),
            search::Node::Choose(d) => Self::Choose(*d),
            search::Node::Leaf(weights) => Self::Leaf(weights.clone()),
        }
    }
}

impl Witness {
    fn of(witness: &witness::Witness, car: &CarTop) -> Self {
        let by = match &witness.ground {
            witness::Ground::Points(points) => Ground::of_points(points, car),
            witness::Ground::Rule(law) => Ground::Rule(RuleGround::of(*law, car)),
        };
        Self { given: options(&witness.given), by }
    }
}

impl Ground {
    fn of_points(points: &Points, car: &CarTop) -> Self {
        let [a, b] = points.parts.map(|part| part_name(part, car));
        let [on_a, on_b] = points.on.map(|p| [p.x, p.y, p.z]);
        let across = points.across.map(|half| half.map(|h| [h.x, h.y, h.z]));
        match points.triangles {
            Some(triangles) => Self::Gap(GapGround { a, b, on_a, on_b, triangles }),
            None => Self::Overlap(OverlapGround { a, b, on_a, on_b, depth: points.depth, across }),
        }
    }
}

fn part_name(part: Part, car: &CarTop) -> String {
    match part {
        Part::Rig(part) => RigPart::name(part, ["A", "B"]),
        Part::Car(id) => format!("car:{}", car.body(id).body.name),
    }
}

impl RuleGround {
    /// A rule by its words alone.
    pub fn bare(rule: &str) -> Self {
        Self {
            rule: rule.into(),
            end: None,
            sign: None,
            skew_sign: None,
            body: None,
            vertex: None,
            toward: None,
        }
    }

    fn of(law: Law, car: &CarTop) -> Self {
        let mut ground = Self::bare(law.rule().word());
        match law {
            Law::CavitySide(id, point, _) | Law::CavityTop(id, point) => {
                let body = &car.body(id).body;
                ground.body = Some(body.name.clone());
                ground.vertex = body.mesh.vertices.iter().position(|v| *v == point);
            }
            Law::FootBeside(end, ..)
            | Law::FootHeight(end)
            | Law::Skew(end, _)
            | Law::Slot(end)
            | Law::Lean(end) => ground.end = Some(end.index()),
            _ => {}
        }
        match law {
            Law::CavitySide(_, _, toward) => ground.toward = Some([toward.x, toward.y]),
            Law::FootBeside(_, sign, skew) => {
                ground.sign = Some(sign);
                ground.skew_sign = Some(skew);
            }
            Law::Skew(_, sign)
            | Law::OverhangDifference(sign)
            | Law::ScrewOffset(sign)
            | Law::Travel(sign) => ground.sign = Some(sign),
            _ => {}
        }
        ground
    }
}
