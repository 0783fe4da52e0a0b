//! A rig for the mechanics, from documents and a placement.

use assembly::hold::{
    GasketCode, GasketFigures, LoadedPart, ScrewEnds, Service, Strength, ThreadForm,
};
use assembly::kit::{Cup as KitCup, Dim, Link, Pin};
use assembly::placement::{End, Side};
use assembly::rig::{self as poses, RigPart, RigPose};
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::{CupStudy, Rule};
use measure::{Bounds, Interval, Length};
use nalgebra::{Isometry3, Vector3};
use sealing::hold::{LinkShape, Material, Part, Rig, RigEnd, Screw};
use sealing::{
    Bar, Block, CodeFactors, Cup, EndHold, Face, Fault, Foot, Friction, Gasket, Hang, LinkPair,
    Profile, Saddle, SidePort, SupplierStress, ball_of_any_fit, socket_mouth,
};

/// The rig of a study's placement. `Err`: what is wrong with its screw, pins or stance; what the
/// documents do not give stays untold in it.
///
/// The cup may stand anywhere within the kit's tolerances of placing: as far from where it is placed,
/// along the bar and across it, as its rule allows, the links as far out of upright and the bar out of
/// level ([`Hang`]). The screw is pressed on the rails as far off their middle.
pub fn rig(
    car: &CarTop,
    kit: &Kit,
    service: &Service,
    study: &CupStudy,
) -> Result<Rig, Vec<Fault>> {
    let nowhere = || vec![Fault::missing("placement", "nothing is placed")];
    let placed = Placed::of(car, kit, study).ok_or_else(nowhere)?;
    let screw = placed.screw().map_err(|fault| vec![fault])?;
    let friction = kit.hold.pin_friction.map(Friction::new).transpose();
    let friction = friction.map_err(|fault| vec![fault])?;
    let hang = placed.hang(&screw, friction);
    let mut faults = placed.short_pins();
    faults.extend(hang.faults());
    if faults.is_empty() { Ok(placed.rig(service, (screw, friction), &hang)) } else { Err(faults) }
}

/// How far the screw may press from the housing's axis at a study's placement.
pub(super) fn from_axis(car: &CarTop, kit: &Kit, study: &CupStudy) -> Option<Bounds<Length>> {
    let placed = Placed::of(car, kit, study)?;
    let distance = middle(&placed.pose.plate_from_block).xy().norm();
    let by = placed.most_off() + placed.ports() + placed.fitting();
    Some(about(distance, by).max(Bounds::exactly(Length::from_mm(0.0))))
}

/// A dimension with its tolerance.
fn length(dim: Dim) -> Bounds<Length> {
    about(dim.nominal, dim.tolerance)
}

/// Millimetres, give or take.
fn about(nominal: f64, by: f64) -> Bounds<Length> {
    Bounds::about(Length::from_mm(nominal), Length::from_mm(by))
}

/// What the rig is made from.
struct Placed<'a> {
    car: &'a CarTop,
    kit: &'a Kit,
    choice: &'a Choice,
    placement: &'a Placement,
    cup: &'a KitCup,
    pose: RigPose,
    /// Distance of the cup's axis from the bar's line, mm.
    off_line: Interval,
    /// The bar's rise between the links, mm.
    rise: Interval,
    /// Lean of the links along the bar, mm at the most.
    lean: f64,
    /// Screw travel left, mm: how uncertain the screw's extension is.
    travel: Interval,
}

impl<'a> Placed<'a> {
    fn of(car: &'a CarTop, kit: &'a Kit, study: &'a CupStudy) -> Option<Self> {
        let (choice, placement) = (study.choice.as_ref()?, study.placement.as_ref()?);
        let outcomes = &study.assessment.as_ref()?.outcomes;
        let measured = |rule: Rule| {
            outcomes.iter().flat_map(|o| &o.margins).find(|m| m.rule == rule).map(|m| m.measured)
        };
        Some(Self {
            car,
            kit,
            choice,
            placement,
            cup: kit.cups.get(choice.cup)?,
            pose: poses::pose(kit, car, choice, placement)?,
            off_line: measured(Rule::ScrewOffset)?,
            rise: measured(Rule::Level)?,
            lean: outcomes
                .iter()
                .flat_map(|o| &o.margins)
                .filter(|m| m.rule == Rule::Lean)
                .fold(0.0, |most, m| most.max(m.measured.high)),
            travel: measured(Rule::Travel)?,
        })
    }

    /// By how much the ports' figures may be wrong, mm.
    fn ports(&self) -> f64 {
        let ports = self.choice.ports.iter().filter_map(|&p| self.car.ports.get(p));
        ports.map(|p| p.deviation).fold(0.0, f64::max)
    }

    /// By how much the fitting may stand elsewhere, mm.
    fn fitting(&self) -> f64 {
        let fitting = self.car.fittings.get(self.choice.fitting);
        let bodies = fitting.into_iter().flat_map(|f| &f.bodies);
        bodies.map(|&id| self.car.body(id).body.deviation.bound).fold(0.0, f64::max)
    }

    /// The most that the cup's axis may stand off the bar's line, and along it off its place, mm.
    fn most_off(&self) -> f64 {
        self.off_line.high.max(self.kit.rules.screw_offset)
    }

    /// Distance between the saddles' middles, which play along the bar with foot and links.
    fn span(&self) -> Bounds<Length> {
        let [a, b] = self.pose.plate_from_saddle.each_ref().map(middle);
        about((a - b).norm(), 2.0 * (self.ports() + self.play()))
    }

    /// By how much a saddle may stand elsewhere along the bar than over the middle of its sidewall,
    /// mm: as the sidewall plays between the links below and the saddle between them above. The mean
    /// over both ends.
    fn play(&self) -> f64 {
        let of = |end: RigEnd| end.upper.off.high().mm() + end.lower.off.high().mm();
        End::BOTH.map(|end| of(self.end(end))).iter().sum::<f64>() / 2.0
    }

    /// How the clamp hangs on its lower pins over the cup: the pins as far off the cup's axis, the links
    /// and the bar as far out of upright and level as the rules let them.
    fn hang(&self, screw: &Screw, in_pins: Option<Friction>) -> Hang {
        let none = Length::from_mm(0.0);
        let stack = poses::stack(self.kit, self.cup, RigPart::LowerPin(End::A));
        let [a, b] = self.pose.plate_from_foot.each_ref().map(|foot| middle(foot).z);
        // A pin that is loose in its holes pulls from wherever it lies in the wider one.
        let pin = length(self.kit.foot.hole).max(length(self.kit.link.hole)) / 2.0;
        let up_to = |most: f64| Bounds::between(none, Length::from_mm(most));
        let reach = |i: usize| self.kit.link.holes.get(self.placement.link_hole[i]).copied();
        let reach = |i| reach(i).map_or(about(f64::NAN, 0.0), length);
        let links = up_to(self.lean.max(self.kit.rules.link_lean)) / reach(0).min(reach(1));
        Hang {
            off: up_to(self.most_off()),
            seat_height: self.seat_height(),
            pin_height: about(a.max(b), self.ports() + stack.worst()),
            links: links.abs(),
            level: self.level(),
            // Where that is not known nothing is told of the load.
            ball: screw.tilting().unwrap_or(Bounds::exactly(none)),
            pin: in_pins.map_or(Bounds::exactly(none), |friction| pin * friction.sine()),
        }
    }

    /// How far the bar is out of level, and the screw leans with it, as rise over run.
    fn level(&self) -> Bounds<f64> {
        let most = Length::from_mm(self.rise.high.max(self.kit.rules.bar_level));
        let rise = Bounds::between(Length::from_mm(0.0), most);
        (rise / self.span()).abs()
    }

    fn seat_height(&self) -> Bounds<Length> {
        let unknown = about(f64::NAN, 0.0);
        poses::gasket_of(self.kit, self.cup).map_or(unknown, |gasket| {
            let stack = poses::stack(self.kit, self.cup, RigPart::Screw);
            about(poses::seat_height(self.kit, self.cup, gasket), stack.worst())
        })
    }

    /// How far the screw may stand off the bar's centre line: as far from the saddles' line as the cup, and
    /// the saddles as far off as their stems play in the slot; no farther than the slot lets it.
    fn across(&self) -> Length {
        let (slot, stem) = (length(self.kit.bar.slot), length(self.kit.saddle.stem_width));
        let play = (slot - stem).high() / 2.0;
        let let_by_slot = (slot - length(self.kit.screw.diameter)).high() / 2.0;
        let off = Length::from_mm(self.most_off()) + play;
        Bounds::exactly(off).min(Bounds::exactly(let_by_slot)).high()
    }

    fn bar(&self) -> Bar {
        let bar = &self.kit.bar;
        let [a, b] = self.pose.plate_from_saddle.each_ref().map(middle);
        let screw = middle(&self.pose.plate_from_block) - 0.5 * (a + b);
        let along = screw.dot(&(a - b).normalize());
        Bar {
            span: self.span(),
            rail_width: length(bar.rail_width),
            rail_height: length(bar.rail_height),
            slot: length(bar.slot),
            along: about(along, self.ports() + self.fitting() + self.play() + self.most_off()),
            across: about(0.0, self.across().mm()),
        }
    }

    fn screw(&self) -> Result<Screw, Fault> {
        let (screw, figures) = (&self.kit.screw, &self.kit.hold.screw);
        let (ball, depth) = (length(screw.ball_diameter), length(self.cup.seat_depth));
        let friction = |range: Option<Bounds<f64>>| range.map(Friction::new).transpose();
        let uncertain = 0.5 * (self.travel.high - self.travel.low);
        Ok(Screw {
            diameter: length(screw.diameter),
            profile: figures.form.map(profile),
            pitch: figures.pitch,
            starts: figures.starts,
            thread_friction: friction(figures.thread_friction)?,
            pivot_radius: pivot(figures.tip_radius, ball_of_any_fit(ball, depth)?)?,
            tip: socket_mouth(ball, depth)?,
            pivot_friction: friction(figures.tip_friction)?,
            ball,
            extension: about(self.placement.screw_extension, uncertain)
                - length(screw.block_height),
            held: figures.ends.map(held),
            lever: length(screw.handle_length) / 2.0 - grip() / 2.0,
            rod: length(screw.handle_diameter),
            hand: self.kit.hold.hand,
            torque_error: self.kit.hold.torque_error,
        })
    }

    /// Thicknesses of the links inside and outside at an end.
    fn links(&self, end: End) -> [Bounds<Length>; 2] {
        Side::BOTH.map(|side| {
            let at = self.placement.link_thickness[end.index()][side.index()];
            let unknown = Dim { nominal: f64::NAN, tolerance: f64::NAN };
            length(self.kit.link.thicknesses.get(at).copied().unwrap_or(unknown))
        })
    }

    /// Pins that do not reach through their links and what holds these apart, whatever the parts are
    /// within their tolerances.
    fn short_pins(&self) -> Vec<Fault> {
        let kit = self.kit;
        let held = length(kit.foot.depth).max(length(kit.saddle.length));
        let thickest = End::BOTH.map(|end| self.links(end).into_iter().fold(held, |a, b| a + b));
        let through = thickest[0].max(thickest[1]);
        let pins = [
            ("length of the lower pin", &kit.lower_pin),
            ("length of the upper pin", &kit.upper_pin),
        ];
        let short = pins.into_iter().filter(|(_, pin)| {
            // No farther short than by rounding.
            (through - length(pin.length)).high() > Length::from_mm(1e-6)
        });
        let fault = |(what, pin): (&'static str, &Pin)| {
            let remedy = format!(
                "its links and what holds them apart take {through}: longer pins are wanted"
            );
            Fault::out_of_range(what, length(pin.length), remedy)
        };
        short.map(fault).collect()
    }

    fn end(&self, end: End) -> RigEnd {
        let (i, kit) = (end.index(), self.kit);
        let [inside, outside] = self.links(end);
        let port = self.car.ports.get(self.choice.ports[i]);
        let wall = port.map_or(about(f64::NAN, 0.0), |p| about(p.wall, p.deviation));
        let foot = length(kit.foot.depth);
        // The foot holds the links apart, or what is longer `between` them; outward they slide as far as
        // the pin reaches. What is between them pulls in its middle, and may lie against either.
        let on = |pin: &Pin, between: Bounds<Length>| {
            let held = foot.max(between);
            let free = (length(pin.length) - inside - outside).max(held);
            let taken_up = kit.hold.pin_play.map(|play| held + play);
            let pushed_out = taken_up.map_or(free, |taken_up| free.min(taken_up));
            let play = (pushed_out - between).high().mm().max(0.0) / 2.0;
            LinkPair { inside, outside, apart: held.hull(pushed_out), off: about(0.0, play) }
        };
        RigEnd {
            upper: on(&kit.upper_pin, length(kit.saddle.length)),
            lower: on(&kit.lower_pin, wall.min(foot)),
            wall,
        }
    }

    fn rig(
        &self,
        service: &Service,
        (screw, pin_friction): (Screw, Option<Friction>),
        hang: &Hang,
    ) -> Rig {
        let (kit, cup) = (self.kit, self.cup);
        let inside = length(cup.inside_diameter);
        let wall = length(cup.wall);
        let saddle = &kit.saddle;
        let foot = &kit.foot;
        let dims = &kit.screw;
        let mut materials: Vec<Material> =
            kit.hold.materials.iter().map(|m| material(part(m.part), &m.strength)).collect();
        materials.extend(service.sidewall.iter().map(|s| material(Part::Sidewall, s)));
        Rig {
            gasket: gasket(kit, cup),
            offset: hang.offset(),
            seat_height: hang.seat_height,
            lean: hang.lean(),
            links_held: kit.hold.links_held,
            pin_friction,
            side_moment: kit.hold.side_moment,
            cup: Cup { inside, wall, crown: length(cup.crown), seat: length(cup.seat_diameter) },
            side_port: Some(SidePort {
                bore: length(cup.port_bore),
                boss: length(cup.port_diameter),
                reach: length(cup.port_face) - inside / 2.0 - wall,
                clear: plain_wall(cup),
            }),
            screw,
            block: Block {
                length: length(dims.block_length),
                width: length(dims.block_width),
                height: length(dims.block_height),
            },
            bar: self.bar(),
            saddle: Saddle {
                length: length(saddle.length),
                stem_width: length(saddle.stem_width),
                top_width: length(saddle.top_width),
                top_height: length(saddle.top_height),
                edge: length(saddle.edge),
                hole: length(saddle.hole),
            },
            upper_pin: length(kit.upper_pin.diameter),
            link: LinkShape {
                width: length(kit.link.width),
                hole: length(kit.link.hole),
                edge: length(kit.link.edge),
                spacing: spacing(&kit.link),
            },
            lower_pin: length(kit.lower_pin.diameter),
            foot: Foot {
                depth: length(foot.depth),
                width: length(foot.width),
                seat: length(foot.seat),
                hole: length(foot.hole),
            },
            ends: End::BOTH.map(|end| self.end(end)),
            materials,
            // No owner asks for less; without theirs nothing is said to hold.
            required_factor: kit.hold.safety_factor.unwrap_or(1.0),
        }
    }
}

/// The radius at which the tip rubs as it was measured, else whatever the ball's fit may give.
fn pivot(
    measured: Option<Bounds<Length>>,
    any: Option<Bounds<Length>>,
) -> Result<Option<Bounds<Length>>, Fault> {
    if let (Some(radius), Some(any)) = (measured, any)
        && radius.high() > any.high()
    {
        let remedy = format!("a ball in this seat rubs within {}: check tip-radius", any.high());
        return Err(Fault::out_of_range("radius at which the screw's tip rubs", radius, remedy));
    }
    Ok(measured.or(any))
}

/// How much of a handle a hand takes up at its tip: the shorter side of the opening for a clenched hand,
/// 95 mm bare to 115 mm gloved (MIL-STD-1472F, from memory).
fn grip() -> Bounds<Length> {
    Bounds::between(Length::from_mm(95.0), Length::from_mm(115.0))
}

/// Least distance between neighbouring holes of a link, the lower one among them.
fn spacing(link: &Link) -> Bounds<Length> {
    let mut below = Bounds::exactly(Length::from_mm(0.0));
    let mut least = about(f64::NAN, 0.0);
    for (i, hole) in link.holes.iter().map(|hole| length(*hole)).enumerate() {
        let step = hole - below;
        least = if i == 0 { step } else { least.min(step) };
        below = hole;
    }
    least
}

fn middle(frame: &Isometry3<f64>) -> Vector3<f64> {
    frame.translation.vector
}

/// Wall from the side port's boss to the crown's underside or to the rim.
fn plain_wall(cup: &KitCup) -> Bounds<Length> {
    let (axis, half) = (length(cup.port_height), length(cup.port_diameter) / 2.0);
    (axis - half).min(length(cup.inside_height) - axis - half)
}

/// The gasket under a cup. The cup's rim presses into it where both are.
fn gasket(kit: &Kit, cup: &KitCup) -> Gasket {
    let rim = length(cup.inside_diameter);
    let outside = rim + length(cup.wall) * 2.0;
    let rim = Face { inside: rim, outside };
    let face = poses::gasket_of(kit, cup).map_or(rim, |gasket| Face {
        inside: length(gasket.inside_diameter),
        outside: length(gasket.outside_diameter),
    });
    let figures = kit.hold.gaskets.iter().find(|g| g.gasket == cup.gasket);
    Gasket {
        face,
        rim: Face { inside: rim.inside.max(face.inside), outside: rim.outside.min(face.outside) },
        code: figures.and_then(|g| g.code).map(factors),
        supplier: figures.and_then(supplier),
    }
}

fn supplier(figures: &GasketFigures) -> Option<SupplierStress> {
    let GasketFigures { least, most, basis, .. } = figures;
    least.or(*most)?;
    Some(SupplierStress { least: *least, most: *most, basis: basis.clone() })
}

fn factors(code: GasketCode) -> CodeFactors {
    match code {
        GasketCode::SoftRubber => CodeFactors::soft_rubber(),
        GasketCode::HardRubber => CodeFactors::hard_rubber(),
        GasketCode::CottonRubber => CodeFactors::cotton_rubber(),
        GasketCode::Factors { m, y } => CodeFactors { m, y },
    }
}

const fn profile(form: ThreadForm) -> Profile {
    match form {
        ThreadForm::Square => Profile::Square,
        ThreadForm::Trapezoidal => Profile::Trapezoidal,
        ThreadForm::Acme => Profile::Acme,
    }
}

const fn held(ends: ScrewEnds) -> EndHold {
    match ends {
        ScrewEnds::FixedFixed => EndHold::FixedFixed,
        ScrewEnds::FixedPinned => EndHold::FixedPinned,
        ScrewEnds::PinnedPinned => EndHold::PinnedPinned,
        ScrewEnds::FixedFree => EndHold::FixedFree,
    }
}

const fn part(part: LoadedPart) -> Part {
    match part {
        LoadedPart::Cup => Part::Cup,
        LoadedPart::Screw => Part::Screw,
        LoadedPart::ScrewHandle => Part::Handle,
        LoadedPart::ScrewBlock => Part::Block,
        LoadedPart::Bar => Part::Bar,
        LoadedPart::Saddle => Part::Saddle,
        LoadedPart::UpperPin => Part::UpperPin,
        LoadedPart::Link => Part::Link,
        LoadedPart::LowerPin => Part::LowerPin,
        LoadedPart::Foot => Part::Foot,
    }
}

fn material(part: Part, strength: &Strength) -> Material {
    Material {
        part,
        yield_strength: strength.yielding,
        tensile_strength: strength.tensile,
        modulus: strength.modulus,
        basis: strength.basis.clone(),
    }
}
