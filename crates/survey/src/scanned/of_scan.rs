//! What room `scan` gives, as it is drafted from.

use crate::draft::{Confidence, Reason};
use crate::scanned::{Place, Scanned, ScannedOpening, Thing};
use scan::{Judged, Kind, Prepared, Rebuilt};

fn confidence(of: scan::Confidence) -> Confidence {
    match of {
        scan::Confidence::Doubtful => Confidence::Doubtful,
        scan::Confidence::Likely => Confidence::Likely,
        scan::Confidence::Sure => Confidence::Sure,
    }
}

fn reason(of: &Judged) -> Reason {
    Reason { confidence: confidence(of.confidence), because: of.because.clone() }
}

impl Scanned {
    /// A scan made ready and rebuilt; the things are in the order of `rebuilt`'s. Both are of the same
    /// shots. Doubtful findings become doubts, but for the plate's, which are asked about it; the notes
    /// of `rebuilt` are the caller's to tell.
    pub fn of(prepared: &Prepared, rebuilt: &Rebuilt) -> Self {
        let things = rebuilt.things.iter().map(|thing| {
            let point = |at: &scan::PointAt| {
                prepared.shots.get(at.shot as usize)?.points.get(at.point as usize).copied()
            };
            Thing {
                name: thing.name.clone(),
                place: match thing.kind {
                    Kind::Plate => Place::Plate,
                    Kind::Wall => Place::Wall,
                    Kind::Above => Place::Above,
                    Kind::Inside => Place::Standing,
                },
                points: thing.points.iter().filter_map(point).collect(),
                low: thing.low,
                high: thing.high,
                doubt: None,
            }
        });
        let openings =
            rebuilt.wall.iter().flat_map(|wall| &wall.openings).map(|o| ScannedOpening {
                at: o.middle.xy(),
                width: o.width,
                height: o.height,
                sill: o.sill,
                seen_through: o.seen_through,
                // What has no wall all around is no opening there, but a note.
                closed: true,
                wall: o.thickness,
                wander: o.deviation,
            });
        let doubtful = |f: &&Judged| f.confidence == scan::Confidence::Doubtful;
        let of_plate = |f: &&Judged| {
            !f.because.contains(&prepared.plate.plane.because)
                && !f.because.contains(&prepared.plate.up.because)
        };
        let findings = prepared.findings.iter().filter(doubtful).filter(of_plate);
        Self {
            things: things.collect(),
            openings: openings.collect(),
            sigma: prepared.sigma,
            spacing: prepared.spacing,
            deviation: prepared.deviation,
            plate: [reason(&prepared.plate.plane), reason(&prepared.plate.up)],
            area: prepared.plate.area,
            doubts: findings
                .map(|f| f.because.clone())
                .chain(rebuilt.notes.iter().cloned())
                .collect(),
        }
    }
}
