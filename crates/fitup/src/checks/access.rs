//! Access: a gloved hand finds room where something is held, pushed or turned: at the cup while it is
//! guided, at the feet while they are held up, at the heads of the pins that are pushed in on the
//! car, at the screw's handle and at the outlet valve's.
//!
//! The hand is a block of the kit's `hand-room`. It may take hold in several ways; the best of them
//! counts, and the gap around it must not be below nothing. Own dimensions of the hand have no
//! deviation; those of what it holds and of what is near count as everywhere.
//!
//! No wrench is looked for: the screw is the one joint that is tightened on the car, and its handle's
//! full turn is asked for by its own check.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use crate::path::solid_of;
use crate::situation::{Situation, boxes_meet};
use assembly::parts::pin_head_offset;
use assembly::placement::{End, Side};
use assembly::rig::{RigPart, gasket_of, rim_height};
use gap::{Proximity, Solid};
use measure::{Interval, Stack};
use nalgebra::{Isometry3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};
use solids::build::block;
use std::f64::consts::TAU;

/// Room around a hand is measured as far as this, mm.
const FAR: f64 = 50.0;
/// Bearings about an axis that are tried: one each 30 degrees.
const BEARINGS: usize = 12;
/// Bearings between the two hands that guide a cup, at least: 90 degrees. Common practice, no source.
const HANDS_APART: usize = 3;
/// Neighbouring places that a hand on the screw's handle needs: from there it regrips. A sixth of a
/// turn, common practice, no source.
const STROKE: usize = 3;

/// What a hand holds, and how: in each of `places`, in the best of some ways.
struct Grip {
    part: RigPart,
    /// Whether the clamp is there.
    with_clamp: bool,
    /// What the hand may touch.
    own: Vec<RigPart>,
    places: Places,
}

/// The places of a hand, each with the ways in which it may take hold there.
enum Places {
    /// All of them are needed.
    All(Vec<Vec<Isometry3<f64>>>),
    /// About an axis: two at least so far apart.
    Two(Vec<Vec<Isometry3<f64>>>),
    /// About an axis: some next to each other.
    Stroke(Vec<Vec<Isometry3<f64>>>),
}

/// What is left around a hand, and of what.
#[derive(Clone, Copy)]
struct Left {
    gap: Interval,
    of: Option<Part>,
    witness: Option<[Point3<f64>; 2]>,
    /// Where the hand is, if it runs into that part: the depth is only roughly known then.
    rough: Option<Isometry3<f64>>,
}

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let [wide, high, deep] = s.scene.kit.rules.hand_room.map(|side| 0.5 * side);
    let half = Point3::new(wide, high, deep);
    let Ok(mesh) = block(Point3::from(-half.coords), half) else {
        ledger.undecided(
            Check::Access,
            "the room that a hand takes has no size".into(),
            "give hand-room-width, hand-room-height and hand-room-depth in [rules]",
        );
        return;
    };
    let hand = Solid::new(&mesh);
    for grip in grips(s) {
        let Some(left) = best(s, &hand, &grip) else { continue };
        let Some(of) = left.of else { continue };
        let left = exactly(s, &hand, &grip, left);
        if left.gap.low <= 0.0 {
            let (held, near) = (ledger.name(Part::Rig(grip.part)), ledger.name(of));
            ledger.undecided(
                Check::Access,
                format!("a gloved hand at the {held} may not find room beside the {near}"),
                "see on the car whether it can be held otherwise; the search does not look for a \
                 placement with room for hands",
            );
        }
        ledger.push(Margin::at_least(
            (Check::Access, Rule::HandRoom),
            (Part::Rig(grip.part), of),
            0.0,
            (left.gap, Stack::none()),
            left.witness,
        ));
    }
}

/// A hand's pose from its middle, the way across its fingers and the way along them.
fn hold(middle: Point3<f64>, wide: Vector3<f64>, deep: Vector3<f64>) -> Isometry3<f64> {
    let rotation = Rotation3::from_basis_unchecked(&[wide, deep.cross(&wide), deep]);
    Isometry3::from_parts(
        Translation3::from(middle.coords),
        UnitQuaternion::from_rotation_matrix(&rotation),
    )
}

fn grips(s: &Situation<'_>) -> Vec<Grip> {
    let kit = s.scene.kit;
    let mut grips = vec![cup(s), screw(s), outlet(s)];
    for end in End::BOTH {
        grips.push(foot(s, end));
        let outside = s.placement.link_thickness[end.index()][Side::Outside.index()];
        let Some(thickness) = kit.link.thicknesses.get(outside) else { continue };
        let pins = [
            (RigPart::LowerPin(end), &kit.lower_pin, vec![RigPart::LowerPinPath(end)]),
            (RigPart::UpperPin(end), &kit.upper_pin, vec![RigPart::UpperPinPath(end)]),
        ];
        for (part, pin, own) in pins.into_iter().filter(|(_, pin, _)| pin.fitted_on_car) {
            let face = pin_head_offset(kit, thickness.nominal) + pin.head_thickness.nominal;
            let ways = against(s, s.pose.plate_from(part), face);
            grips.push(Grip { part, with_clamp: true, own, places: Places::All(vec![ways]) });
        }
    }
    grips
}

/// A hand against a face square to a part's x, from outside: turned about x, with the face before the
/// middle of the hand or near one of its edges, where the fingers end.
fn against(s: &Situation<'_>, plate_from_part: &Isometry3<f64>, face: f64) -> Vec<Isometry3<f64>> {
    let [wide, high, deep] = s.scene.kit.rules.hand_room;
    let out = plate_from_part * Vector3::x();
    let mut ways = Vec::new();
    for roll in 0..BEARINGS / 2 {
        let (sin, cos) = (TAU * roll as f64 / BEARINGS as f64).sin_cos();
        let across = plate_from_part * Vector3::new(0.0, cos, sin);
        let up = out.cross(&across);
        for (x, y) in [(0.0, 0.0), (0.4, 0.0), (-0.4, 0.0), (0.0, 0.4), (0.0, -0.4)] {
            let middle = plate_from_part * Point3::new(face + 0.5 * deep, 0.0, 0.0)
                + across * (x * wide)
                + up * (y * high);
            ways.push(hold(middle, across, out));
        }
    }
    ways
}

/// A foot is held from outside until links and pin are there.
fn foot(s: &Situation<'_>, end: End) -> Grip {
    let part = RigPart::Foot(end);
    let face = 0.5 * s.scene.kit.foot.depth.nominal;
    let ways = against(s, s.pose.plate_from(part), face);
    Grip { part, with_clamp: false, own: vec![part], places: Places::All(vec![ways]) }
}

/// Two hands lie on the crown's edge, square to it.
fn cup(s: &Situation<'_>) -> Grip {
    let kit = s.scene.kit;
    let [_, high, _] = kit.rules.hand_room;
    let places = kit.cups.get(s.choice.cup).map(|cup| {
        let rim = gasket_of(kit, cup).map_or(0.0, rim_height);
        let crown = rim + cup.inside_height.nominal + cup.crown.nominal;
        let edge = 0.5 * cup.inside_diameter.nominal + cup.wall.nominal;
        let at = s.pose.plate_from_cup;
        about(|out, along| {
            let middle = at * Point3::from(out * edge + Vector3::z() * (crown + 0.5 * high));
            vec![hold(middle, at * along, at * -out)]
        })
    });
    let own = vec![RigPart::Cup, RigPart::SidePort, RigPart::Gasket];
    let places = Places::Two(places.unwrap_or_default());
    Grip { part: RigPart::Cup, with_clamp: false, own, places }
}

/// Places about an axis along z: each from the way out and the way along the circle.
fn about(
    ways: impl Fn(Vector3<f64>, Vector3<f64>) -> Vec<Isometry3<f64>>,
) -> Vec<Vec<Isometry3<f64>>> {
    let place = |bearing: usize| {
        let (sin, cos) = (TAU * bearing as f64 / BEARINGS as f64).sin_cos();
        ways(Vector3::new(cos, sin, 0.0), Vector3::new(-sin, cos, 0.0))
    };
    (0..BEARINGS).map(place).collect()
}

/// The ways to hold a rod or a lever by its end, which points along `out`; `over` is square to it.
fn by_the_end(
    s: &Situation<'_>,
    tip: Point3<f64>,
    out: Vector3<f64>,
    over: Vector3<f64>,
) -> Vec<Isometry3<f64>> {
    let [wide, high, deep] = s.scene.kit.rules.hand_room;
    let side = over.cross(&out);
    let mut ways = vec![
        // Around the end, from beyond it.
        hold(tip, side, -out),
        hold(tip, over, -out),
    ];
    for over in [over, -over] {
        // Over it from one side: along it and across it.
        let within = tip - out * (0.5 * wide).min(0.5 * deep) + over * (0.25 * deep);
        ways.extend([hold(within, out, -over), hold(within, side, -over)]);
        // With the palm's edge alone.
        ways.push(hold(tip + over * (0.5 * high), side, -out));
    }
    ways
}

fn screw(s: &Situation<'_>) -> Grip {
    let screw = &s.scene.kit.screw;
    let at = s.pose.plate_from_screw;
    let height = screw.length.nominal - screw.handle_drop.nominal;
    let places = about(|out, _| {
        let tip = at * Point3::from(out * (0.5 * screw.handle_length.nominal))
            + at * Vector3::z() * height;
        by_the_end(s, tip, at * out, at * Vector3::z())
    });
    let own = vec![RigPart::Screw, RigPart::ScrewHandle];
    Grip { part: RigPart::ScrewHandle, with_clamp: true, own, places: Places::Stroke(places) }
}

/// The handle is held where the valve is open, where it is shut, and midway.
fn outlet(s: &Situation<'_>) -> Grip {
    let o = &s.scene.kit.outlet;
    let at = s.pose.plate_from_outlet;
    let leg = o.elbow_centre_to_end.nominal;
    let stem = Point3::new(
        o.port_nipple.nominal + leg + o.stem_height.nominal + 0.5 * o.handle_thickness.nominal,
        0.0,
        leg + o.riser_nipple.nominal + 0.5 * o.valve_length.nominal,
    );
    let places = [0.0, 0.5, 1.0].map(|share| {
        // Clockwise seen from outside, looking along -x: from +z toward +y.
        let (sin, cos) = (share * o.handle_swing.radians()).sin_cos();
        let out = Vector3::new(0.0, sin, cos);
        let tip = at * (stem + out * o.handle_length.nominal);
        by_the_end(s, tip, at * out, at * Vector3::x())
    });
    let own = vec![RigPart::Outlet, RigPart::OutletHandle];
    let places = Places::All(places.to_vec());
    Grip { part: RigPart::OutletHandle, with_clamp: true, own, places }
}

/// What is left around a hand in the best way to hold; `None` where nothing is near.
fn best(s: &Situation<'_>, hand: &Solid, grip: &Grip) -> Option<Left> {
    let near: Vec<Part> = s
        .present()
        .map(Part::Car)
        .chain(
            s.rig_parts()
                .into_iter()
                .filter(|p| !grip.own.contains(p) && *p != grip.part)
                .filter(|p| grip.with_clamp || !p.is_clamp())
                // Spaces that other parts sweep are free while those are not moved; the outlet's
                // handle itself is there.
                .filter(|p| {
                    !matches!(
                        p,
                        RigPart::ScrewHandle | RigPart::UpperPinPath(_) | RigPart::LowerPinPath(_)
                    )
                })
                .map(Part::Rig),
        )
        .collect();
    let at = |ways: &Vec<Isometry3<f64>>| {
        let left = ways.iter().map(|way| around(s, hand, grip.part, way, &near));
        left.max_by(by_low)
    };
    let of = |places: &Vec<Vec<Isometry3<f64>>>| places.iter().map(at).collect::<Option<Vec<_>>>();
    match &grip.places {
        Places::All(places) => of(places)?.into_iter().min_by(by_low),
        Places::Two(places) => {
            let found = of(places)?;
            let count = found.len();
            let pairs = (0..count).flat_map(|i| {
                (i + HANDS_APART..count)
                    .filter(move |j| j + HANDS_APART <= i + count)
                    .map(move |j| (i, j))
            });
            let both = pairs.filter_map(|(i, j)| {
                [found.get(i)?, found.get(j)?].into_iter().copied().min_by(by_low)
            });
            both.max_by(by_low)
        }
        Places::Stroke(places) => {
            let found = of(places)?;
            let strokes = (0..found.len()).filter_map(|from| {
                let stroke = found.iter().cycle().skip(from).take(STROKE).copied();
                stroke.min_by(by_low)
            });
            strokes.max_by(by_low)
        }
    }
}

fn by_low(a: &Left, b: &Left) -> std::cmp::Ordering {
    a.gap.low.total_cmp(&b.gap.low)
}

fn posed<'s>(s: &'s Situation<'_>, part: Part) -> Option<(&'s Solid, Isometry3<f64>)> {
    match part {
        Part::Car(id) => Some((s.scene.car_solid(id), s.plate_from_car(id))),
        Part::Rig(rig) => solid_of(s, rig).map(|solid| (solid, *s.pose.plate_from(rig))),
    }
}

/// The same with the depth by which the hand runs into the part measured.
fn exactly(s: &Situation<'_>, hand: &Solid, grip: &Grip, left: Left) -> Left {
    let (Some(part), Some(plate_from_hand)) = (left.of, left.rough) else { return left };
    let Some((solid, plate_from_part)) = posed(s, part) else { return left };
    let deviation = s.deviation(Part::Rig(grip.part)) + s.deviation(part);
    let found = gap::overlap(hand, solid, &plate_from_hand.inv_mul(&plate_from_part));
    let (gap, witness) = found.map_or((Interval::exactly(0.0), None), |found| {
        let depth = Interval::between(-found.depth_high, -found.depth_low);
        (depth, Some([plate_from_hand * found.at; 2]))
    });
    Left { gap: gap.widened(deviation), witness, ..left }
}

/// What is left around a hand in one place.
fn around(
    s: &Situation<'_>,
    hand: &Solid,
    held: RigPart,
    plate_from_hand: &Isometry3<f64>,
    near: &[Part],
) -> Left {
    let mut least = Left { gap: Interval::exactly(FAR), of: None, witness: None, rough: None };
    for &part in near {
        let Some((solid, plate_from_part)) = posed(s, part) else { continue };
        let deviation = s.deviation(Part::Rig(held)) + s.deviation(part);
        let hand_from_part = plate_from_hand.inv_mul(&plate_from_part);
        let cap = (least.gap.low + deviation).max(0.0);
        // Something unseen may stand where a surface has holes.
        let unseen = !solid.is_closed()
            && match (hand.bounds(), solid.bounds()) {
                (Some(own), Some(body)) => {
                    boxes_meet(&own, &body, &hand_from_part.inverse(), deviation)
                }
                _ => true,
            };
        let unknown = (Interval::between(-FAR, FAR), None);
        let mut rough = None;
        let (gap, witness) = if unseen {
            unknown
        } else {
            match gap::gap(hand, solid, &hand_from_part, cap) {
                Proximity::AtLeast(_) => continue,
                Proximity::Apart(found) => (
                    Interval::exactly(found.distance),
                    Some([plate_from_hand * found.on_a, plate_from_hand * found.on_b]),
                ),
                Proximity::Overlapping => {
                    rough = Some(*plate_from_hand);
                    let sunk = gap::sunk(hand, solid, &hand_from_part, f64::INFINITY);
                    (Interval::exactly(-sunk.map_or(0.0, |sunk| sunk.overlap())), None)
                }
                Proximity::CannotDecide(_) => unknown,
            }
        };
        let mut gap = gap.widened(deviation);
        if part.is_unseen(s.scene.car) {
            gap.high = gap.high.max(FAR);
        }
        if gap.low < least.gap.low {
            least = Left { gap, of: Some(part), witness, rough };
        }
    }
    least
}
