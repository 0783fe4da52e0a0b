//! Car tops built of boxes, and certificates made by hand for them.

use crate::sample_kit;
use assembly::car_top::{
    BodyId, CarBody, Fitting, FittingKind, LidState, Measured, Port, Removable,
};
use assembly::kit::PartKind;
use assembly::{CarTop, Choice, Kit, parts};
use measure::{Angle, LengthUnit};
use nalgebra::{Point2, Point3};
use recheck::{Fault, Rechecked};
use review::proof::{
    Certificate, GapGround, Ground, Node, OverlapGround, RuleGround, Sense, Space, Witness,
};
use solids::build::block;
use solids::{Body, Deviation};
use std::f64::consts::PI;

/// Deviation of every body, mm.
const DEVIATION: f64 = 0.1;
/// Index of the cup: inside diameter 174.6 mm, wall 8 mm.
const CUP: usize = 1;

pub(crate) struct Workshop {
    pub(crate) car: CarTop,
    pub(crate) kit: Kit,
}

impl Workshop {
    /// A fitting of this half width at `y`, and a box beside it from `near` on.
    fn new(half: f64, y: f64, near: f64) -> Self {
        let mut bodies = Vec::new();
        let mut add = |kind, name: &str, low: [f64; 3], high: [f64; 3]| {
            let mesh = block(Point3::from(low), Point3::from(high)).unwrap();
            let deviation = Deviation { bound: DEVIATION, basis: "drawn".into() };
            bodies.push(CarBody {
                kind,
                body: Body { name: name.into(), mesh, deviation },
                unseen: false,
            });
            BodyId(bodies.len() - 1)
        };
        let plate = add(PartKind::Plate, "plate", [-350.0, -350.0, -30.0], [350.0, 350.0, 0.0]);
        let sidewall =
            add(PartKind::Housing, "sidewall", [300.0, -300.0, 140.0], [310.0, 300.0, 300.0]);
        let cover =
            add(PartKind::PortCover, "cover of East", [311.0, -60.0, 40.0], [318.0, 60.0, 145.0]);
        let body = add(PartKind::Fitting, "body", [-half, y - half, 0.0], [half, y + half, 100.0]);
        let wheel =
            add(PartKind::Fitting, "wheel", [-40.0, y - 40.0, 110.0], [40.0, y + 40.0, 130.0]);
        let neighbour =
            add(PartKind::Fitting, "neighbour", [-30.0, near, 0.0], [30.0, near + 60.0, 230.0]);
        let fitting = |name: &str, y: f64, body: BodyId, removables| Fitting {
            name: name.into(),
            kind: FittingKind::BlindFlange,
            size: "drawn".into(),
            centre: Point2::new(0.0, y),
            flange: 2.0 * half,
            bodies: vec![body],
            removables,
        };
        let wheel = vec![Removable { name: "wheel".into(), body: wheel }];
        let port = |name: &str, x: f64, facing: f64, cover| Port {
            name: name.into(),
            at: Point2::new(x, 0.0),
            facing: Angle::from_radians(facing),
            width: 100.0,
            height: 95.0,
            sill: 45.0,
            wall: 10.0,
            deviation: 0.05,
            cover,
        };
        let car = CarTop {
            title: "boxes".into(),
            unit: LengthUnit::Millimetre,
            measured: Measured::default(),
            plate,
            housing: vec![sidewall],
            ports: vec![port("East", 305.0, 0.0, Some(cover)), port("West", -305.0, PI, None)],
            lid: LidState::None,
            hinge: Some(Vec::new()),
            studs: Some(Vec::new()),
            fittings: vec![
                fitting("low", y, body, wheel),
                fitting("tall", near + 30.0, neighbour, Vec::new()),
            ],
            bodies,
        };
        let cups = sample_kit::CUPS;
        assert!(cups > CUP);
        Self { car, kit: sample_kit::kit(740.0, false) }
    }

    /// The fitting's diagonal is wider than the cup.
    pub(crate) fn wide() -> Self {
        Self::new(70.0, 0.0, 200.0)
    }

    /// The neighbour stands where the cup's wall comes.
    pub(crate) fn crowded() -> Self {
        Self::new(50.0, 0.0, 68.0)
    }

    /// The fitting stands 90 mm beside the line between the ports.
    pub(crate) fn aside() -> Self {
        Self::new(50.0, 90.0, 200.0)
    }

    pub(crate) fn check(&self, certificate: &Certificate) -> Result<Rechecked, Fault> {
        recheck::certificate(&self.car, &self.kit, 0, CUP, certificate)
    }

    pub(crate) fn choice(&self) -> Choice {
        let removed = vec![assembly::placement::Removed { fitting: 0, removable: 0 }];
        assert_eq!(self.car.fittings[0].removables.len(), removed.len());
        Choice { fitting: 0, cup: CUP, ports: [0, 1], removed }
    }

    /// With the wheel off.
    fn certificate(
        &self,
        sense: Sense,
        bound: f64,
        by: Vec<Witness>,
        nodes: Vec<Node>,
    ) -> Certificate {
        // Ports: half the width, their deviation, half the foot's tolerances and what the turn of the
        // bar's line does, less the need and what a foot takes up that is as much out of square as it
        // may be.
        let rules = &self.kit.rules;
        let apart = (self.car.ports[0].at - self.car.ports[1].at).norm() - 2.0 * 50.05;
        let turn = 2.0 * 0.05 / apart;
        let wide = 50.05 + 0.025 * 2.0_f64.sqrt() + turn * 38.0_f64.hypot(11.9);
        let aslant = rules.foot_skew.radians().sin() + turn;
        let need = rules.need(PartKind::Foot, PartKind::Housing);
        let foot = wide - need - 38.0 * (1.0 - aslant * aslant).sqrt();
        // Offsets: circles around the fitting's corners, as wide as the inside with its tolerance
        // and the fitting's deviation, have that much in common.
        let (low, high) = self.car.bodies[3].body.mesh.bounds().unwrap();
        let (radius, half) = (0.5 * (174.6 + 0.05) + DEVIATION, 0.5 * (high.x - low.x));
        let reach = ((radius * radius - half * half).sqrt() - half).max(1.0);
        let slide = 0.5 * (6.35 + 0.05);
        let high = [reach, reach, PI, foot, foot, slide, 0.0];
        Certificate {
            ports: ["East".into(), "West".into()],
            removed: vec![review::record::Removed { fitting: "low".into(), piece: "wheel".into() }],
            sense,
            bound_mm: bound,
            space: Space { low: high.map(|h: f64| -h), high },
            witnesses: by,
            nodes,
        }
    }

    pub(crate) fn too_wide(&self, sense: Sense) -> Certificate {
        let corners = self.opposite_corners();
        let off = DEVIATION + 0.025;
        let off = if sense == Sense::Low { -off } else { off };
        let bound = 87.3 - 70.0 * 2.0_f64.sqrt() - 2.0 + off;
        self.certificate(sense, bound, corners, vec![Node::Leaf(vec![(0, 0.5), (1, 0.5)])])
    }

    /// Room at two opposite corners of the fitting.
    fn opposite_corners(&self) -> Vec<Witness> {
        let vertices = &self.car.bodies[3].body.mesh.vertices;
        let corner = |sign: f64| {
            let here = |p: &Point3<f64>| sign * p.x > 0.0 && sign * p.y > 0.0;
            let mut by = RuleGround::bare("room inside the cup");
            by.body = Some("body".into());
            by.vertex = vertices.iter().position(here);
            by.toward = Some([sign * 0.5_f64.sqrt(); 2]);
            Witness { given: Vec::new(), by: Ground::Rule(by) }
        };
        vec![corner(1.0), corner(-1.0)]
    }

    /// Cuts x and y this often and takes in each cell a point of the wall and the place in the
    /// neighbour where it lies with the cup in the cell's middle.
    pub(crate) fn in_the_way(&self, levels: usize, sense: Sense, bound: f64) -> Certificate {
        let mut certificate = self.certificate(sense, bound, Vec::new(), Vec::new());
        let space = certificate.space.clone();
        let square = [[space.low[0], space.high[0]], [space.low[1], space.high[1]]];
        cut(square, 2 * levels, &mut certificate);
        certificate
    }

    pub(crate) fn off_the_line(&self) -> Certificate {
        let mut by = RuleGround::bare("screw off the cup's axis");
        by.sign = Some(1.0);
        let witness = Witness { given: Vec::new(), by: Ground::Rule(by) };
        // The bar's line runs from West to East; the cup stands to its left.
        self.certificate(Sense::High, 0.0, vec![witness], vec![Node::Leaf(vec![(0, 1.0)])])
    }

    pub(crate) fn by_holes(&self) -> Certificate {
        let mut witnesses = self.opposite_corners();
        let mut nodes = vec![Node::Choose(1)];
        for a in 0..4 {
            nodes.push(Node::Choose(2));
            for b in 0..4 {
                if a == b {
                    nodes.push(Node::Leaf(vec![(0, 0.5), (1, 0.5)]));
                    continue;
                }
                nodes.push(Node::Leaf(vec![(witnesses.len(), 2.0)]));
                let by = Ground::Rule(RuleGround::bare("bar out of level"));
                witnesses.push(Witness { given: vec![(1, a), (2, b)], by });
            }
        }
        let bound = self.too_wide(Sense::Low).bound_mm;
        self.certificate(Sense::Low, bound, witnesses, nodes)
    }

    /// The lowest corner of the cup above a square within the plate, half a millimetre down.
    pub(crate) fn over_the_plate(&self) -> Certificate {
        let cup = parts::cup(&self.kit, &self.kit.cups[CUP]).unwrap().mesh;
        let lowest = cup.vertices.iter().min_by(|a, b| a.z.total_cmp(&b.z)).unwrap();
        let overlap = OverlapGround {
            a: "cup".into(),
            b: "car:plate".into(),
            on_a: [lowest.x, lowest.y, lowest.z],
            on_b: [0.0, 0.0, -0.5],
            depth: 0.0,
            across: Some([[250.0, 0.0, 0.0], [0.0, 250.0, 0.0]]),
        };
        let witness = Witness { given: Vec::new(), by: Ground::Overlap(overlap) };
        self.certificate(Sense::High, 9.0, vec![witness], vec![Node::Leaf(vec![(0, 1.0)])])
    }

    /// The first corners of the first triangles of two parts.
    pub(crate) fn two_points(&self, a: &str, b: &str) -> Certificate {
        let first = |name: &str| {
            let body = name.strip_prefix("car:");
            let of_car = body.and_then(|n| self.car.bodies.iter().find(|b| b.body.name == n));
            let cup = &self.kit.cups[CUP];
            let mesh = match (of_car, name) {
                (Some(body), _) => body.body.mesh.clone(),
                (_, "gasket") => {
                    parts::gasket(&self.kit, cup, &self.kit.gaskets[CUP]).unwrap().mesh
                }
                (_, "cup") => parts::cup(&self.kit, cup).unwrap().mesh,
                (_, "upper pin at A") => parts::upper_pin(&self.kit, 0).unwrap().mesh,
                _ => parts::foot(&self.kit).unwrap().mesh,
            };
            let p = mesh.corners(0)[0];
            [p.x, p.y, p.z]
        };
        let gap = GapGround {
            a: a.into(),
            b: b.into(),
            on_a: first(a),
            on_b: first(b),
            triangles: [0, 0],
        };
        let witness = Witness { given: Vec::new(), by: Ground::Gap(gap) };
        self.certificate(Sense::Low, 900.0, vec![witness], vec![Node::Leaf(vec![(0, 1.0)])])
    }
}

/// Cells of the cup's offset, each with its witness.
fn cut(square: [[f64; 2]; 2], left: usize, into: &mut Certificate) {
    let middle = square.map(|[low, high]| 0.5 * low + 0.5 * high);
    if left > 0 {
        let k = left % 2;
        into.nodes.push(Node::Halve(k));
        let (mut lower, mut upper) = (square, square);
        lower[k][1] = middle[k];
        upper[k][0] = middle[k];
        cut(lower, left - 1, into);
        cut(upper, left - 1, into);
        return;
    }
    // In the middle of the wall.
    let on_a = [0.0, 87.3 + 4.0, 60.0];
    let overlap = OverlapGround {
        a: "cup".into(),
        b: "car:neighbour".into(),
        on_a,
        on_b: [on_a[0] + middle[0], on_a[1] + middle[1], on_a[2]],
        // Half of the wall, less what the chords take.
        depth: 3.5,
        across: None,
    };
    into.nodes.push(Node::Leaf(vec![(into.witnesses.len(), 1.0)]));
    into.witnesses.push(Witness { given: Vec::new(), by: Ground::Overlap(overlap) });
}
