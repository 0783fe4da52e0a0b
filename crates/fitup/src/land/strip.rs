//! The land of one placement unrolled: its heights over bearing and radius, and what stands in it.

use super::plane::Ring;
use super::polygon::{area, clip, cross, reach};
use super::top::{WINDOW, seen};
use super::{Asking, Land};
use crate::margin::Part;
use crate::situation::{Measured, Situation};
use assembly::car_top::BodyId;
use assembly::rig::{RigPart, gasket_of};
use measure::{Angle, Interval};
use nalgebra::{Point2, Point3, Vector2, Vector3};
use std::f64::consts::TAU;

/// Cells of the strip: bearings by radii.
const CELLS: [usize; 2] = [72, 5];
/// Other bodies are told of when they are nearer to the gasket than this, mm.
const BESIDE: f64 = 25.0;

/// The land of one placement.
#[derive(Debug, Clone, PartialEq)]
pub struct LandStrip {
    /// The gasket's inner and outer radius, mm.
    pub radii: [f64; 2],
    /// The plate's greatest departure from its best-fit plane, mm; `None` where none is seen.
    pub departure: Option<Interval>,
    /// The narrowest run of bare flat plate over all bearings, mm.
    pub seal_width: Interval,
    /// Where that is, from the cup's axis; toward the hinge where all of the land is good.
    pub narrowest: Angle,
    /// Toward where the surface is not seen all the way, from the cup's axis.
    pub unseen: Option<Angle>,
    /// The highest and the lowest place: bearing from the cup's axis and height over the best-fit
    /// plane, mm.
    pub extremes: Option<[(Angle, f64); 2]>,
    /// Least and greatest height over the best-fit plane in each cell, mm: one row for each of 72
    /// sectors counter-clockwise from the hinge's bearing, in it 5 rings of equal width from the
    /// inside out. `None` where no plate is seen.
    pub heights: Vec<Vec<Option<[f64; 2]>>>,
    /// Other bodies near the gasket, nearest first.
    pub standing: Vec<Standing>,
}

/// A body near the gasket.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The body.
    pub body: BodyId,
    /// Its distance from the gasket, mm; below zero for an overlap.
    pub distance: Interval,
    /// The nearest place's bearing from the cup's axis.
    pub nearest: Angle,
    /// Bearings over which it stands on the land, or over it by no more than 40 mm: arcs
    /// counter-clockwise from first to last, in whole degrees rounded outward. Empty for one that
    /// only stands beside it.
    pub over: Vec<[Angle; 2]>,
}

/// Unrolls the land of a placed rig. `None` for a cup without its gasket.
pub fn land_strip(situation: &Situation<'_>) -> Option<LandStrip> {
    let asking = Asking::of(situation)?;
    let top = situation.scene.plate_top();
    let land = Land::of(top, &asking);
    let [inner, outer] = asking.radii;
    let pieces = seen(&top.about(asking.axis, inner, outer));
    let heights = match &land.flatness {
        Some(flatness) => (0..CELLS[0])
            .map(|sector| {
                let at = |i: usize| TAU * i as f64 / CELLS[0] as f64;
                let wedge = wedge(&pieces, at(sector), at(sector + 1));
                (0..CELLS[1])
                    .map(|ring| {
                        let radius =
                            |i: usize| inner + (outer - inner) * i as f64 / CELLS[1] as f64;
                        let ring = Ring::of(&wedge, radius(ring), radius(ring + 1));
                        let found = ring.extremes(&flatness.plane)?;
                        Some([found.lowest.0, found.highest.0])
                    })
                    .collect()
            })
            .collect(),
        None => vec![vec![None; CELLS[1]]; CELLS[0]],
    };
    let extremes = land
        .flatness
        .as_ref()
        .map(|f| [f.extremes.highest, f.extremes.lowest].map(|(height, at)| (bearing(at), height)));
    Some(LandStrip {
        radii: asking.radii,
        departure: land.flatness.map(|f| f.departure),
        seal_width: land.seal_width,
        narrowest: land.narrowest,
        unseen: land.unseen,
        extremes,
        heights,
        standing: standing(situation, &asking),
    })
}

impl Asking {
    /// The land of a placed rig; `None` for a cup without its gasket.
    pub(crate) fn of(s: &Situation<'_>) -> Option<Self> {
        let kit = s.scene.kit;
        let gasket = gasket_of(kit, kit.cups.get(s.choice.cup)?)?;
        Some(Self {
            axis: Point2::from(s.pose.plate_from_cup.translation.vector.xy()),
            radii: [gasket.inside_diameter, gasket.outside_diameter].map(|d| 0.5 * d.nominal),
            tolerance: kit.rules.land_flatness,
            deviation: s.deviation(Part::Car(s.scene.car.plate)),
        })
    }
}

fn bearing(at: Point3<f64>) -> Angle {
    Angle::from_radians(at.y.atan2(at.x))
}

/// What lies between two bearings less than a half turn apart.
fn wedge(pieces: &[Vec<Point3<f64>>], from: f64, to: f64) -> Vec<Vec<Point3<f64>>> {
    let toward = |bearing: f64| Vector2::new(bearing.cos(), bearing.sin());
    let (first, last) = (toward(from), toward(to));
    pieces
        .iter()
        .map(|piece| {
            let left = clip(piece, |p| cross(first, p.xy().coords));
            clip(&left, |p| cross(p.xy().coords, last))
        })
        .filter(|piece| !piece.is_empty())
        .collect()
}

fn standing(s: &Situation<'_>, asking: &Asking) -> Vec<Standing> {
    let plate = s.scene.car.plate;
    let deviation = s.deviation(Part::Rig(RigPart::Gasket));
    let axis = Vector3::new(asking.axis.x, asking.axis.y, 0.0);
    let mut all: Vec<Standing> = s
        .present()
        .filter(|id| *id != plate)
        .filter_map(|body| {
            let part = Part::Car(body);
            let cap = BESIDE + deviation + s.deviation(part);
            match s.between(Part::Rig(RigPart::Gasket), part, cap) {
                Measured::Between(distance, witness) => Some(Standing {
                    body,
                    distance,
                    nearest: witness.map_or(Angle::ZERO, |[_, on_body]| bearing(on_body - axis)),
                    over: over(s, body, asking),
                }),
                Measured::Beyond(_) | Measured::Undecided(_) => None,
            }
        })
        .collect();
    all.sort_by(|a, b| a.distance.low.total_cmp(&b.distance.low).then(a.body.cmp(&b.body)));
    all
}

/// The arcs in which a body's triangles lie between the two radii, up to the window's height.
fn over(s: &Situation<'_>, body: BodyId, asking: &Asking) -> Vec<[Angle; 2]> {
    let [inner, outer] = asking.radii;
    let mesh = s.scene.car_solid(body).mesh();
    let plate_from_body = s.plate_from_car(body);
    let by = Vector3::new(asking.axis.x, asking.axis.y, 0.0);
    let mut taken = [false; 360];
    for index in 0..mesh.triangles.len() {
        let corners = mesh.corners(index).map(|p| plate_from_body * p - by);
        let low = clip(&corners, |p| WINDOW - p.z);
        let mut part = clip(&low, |p| p.z + WINDOW);
        if area(&part) < 0.0 {
            part.reverse();
        }
        let (near, far) = reach(&part);
        if part.is_empty() || near > outer || far < inner {
            continue;
        }
        for (degree, taken) in taken.iter_mut().enumerate().filter(|(_, taken)| !**taken) {
            let at = |degree: usize| (degree as f64).to_radians();
            let wedge = wedge(std::slice::from_ref(&part), at(degree), at(degree + 1));
            *taken = wedge.iter().any(|piece| {
                let (near, far) = reach(piece);
                near <= outer && far >= inner
            });
        }
    }
    arcs(&taken)
}

/// The runs of degrees that are taken, the one over the hinge's bearing in one piece.
fn arcs(taken: &[bool; 360]) -> Vec<[Angle; 2]> {
    let at = |degree: i32| Angle::from_degrees(f64::from(degree));
    let Some(free) = (0..360).find(|d| !taken[*d]) else { return vec![[at(0), at(360)]] };
    let mut arcs = Vec::new();
    let mut begun = None;
    for (degree, index) in (free..=free + 360).map(|d| (i32::try_from(d).unwrap_or(0), d % 360)) {
        match (taken[index], begun) {
            (true, None) => begun = Some(degree),
            (false, Some(from)) => {
                arcs.push([at(from), at(degree)]);
                begun = None;
            }
            _ => {}
        }
    }
    arcs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_become_arcs_over_the_hinges_bearing_too() {
        let mut taken = [false; 360];
        assert!(arcs(&taken).is_empty());
        for d in [358, 359, 0, 90] {
            taken[d] = true;
        }
        let degrees = |all: Vec<[Angle; 2]>| -> Vec<[f64; 2]> {
            all.iter().map(|arc| arc.map(|a| a.degrees().round())).collect()
        };
        assert_eq!(degrees(arcs(&taken)), [[90.0, 91.0], [358.0, 361.0]]);
        assert_eq!(degrees(arcs(&[true; 360])), [[0.0, 360.0]]);
    }
}
