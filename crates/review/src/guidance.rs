//! Guidance for designers as it is written down, and its sentences.

use crate::advise::{self, FARTHEST};
use crate::record::{Bounds, Record, Removed, Verdict, removed_names};
use crate::words;
use assembly::change::PortStretch;
use assembly::{CarTop, Change, Kit, Way};
use measure::{Angle, Length, LengthUnit};
use serde::{Deserialize, Serialize};

/// The single changes looked for where a fitting does not fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Guidance {
    /// Those that make it fit: by kind, in the order of the effort that they cost, and within a kind
    /// the smallest first. Each is the smallest size found, not proven to be the smallest there is.
    pub changes: Vec<Suggested>,
    /// Those that would make it fit, but after which another fitting no longer does.
    pub spoiling: Vec<Spoiling>,
    /// Ways of changing the car top that were looked at.
    pub ways: usize,
    /// Those of them that cannot help, whatever the size, because the proof that nothing fits holds
    /// on.
    pub ruled_out: usize,
    /// How many changed car tops were searched.
    pub tried: usize,
}

/// A change after which the fitting fits, re-checked at the size told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Suggested {
    /// The change.
    pub change: ChangeTold,
    /// The verdict after it.
    pub verdict: Verdict,
    /// The cup.
    pub cup: String,
    /// What is taken off first.
    pub removed: Vec<Removed>,
    /// The least margin after it.
    pub least_margin_mm: Bounds,
    /// The other fittings that fitted before: they still do.
    pub still_fit: Vec<String>,
}

/// A change that spoils another fitting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spoiling {
    /// The change.
    pub change: ChangeTold,
    /// The fittings that no longer fit.
    pub spoils: Vec<String>,
}

/// A change of the car top.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangeTold {
    /// What is done.
    pub kind: ChangeKind,
    /// The fitting or the studs; `null` for the lid and the housing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub what: Option<String>,
    /// The way it is moved: outward, inward, or a clock position.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub toward: Option<String>,
    /// The same as a bearing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub toward_deg: Option<f64>,
    /// The heights between which it is made longer or shorter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub between_mm: Option<[f64; 2]>,
    /// What becomes of the ports when the sidewall is made higher or lower.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ports: Option<String>,
    /// How far: outward, longer, higher; below zero inward, shorter, lower.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_mm: Option<f64>,
    /// How far: farther open, counter-clockwise; below zero less open, clockwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_deg: Option<f64>,
    /// The lid's new stop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop_deg: Option<f64>,
}

/// Kinds of changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChangeKind {
    /// The lid's stop.
    LidStop,
    /// A fitting is turned about its centreline.
    TurnFitting,
    /// A fitting is made shorter.
    ShortenFitting,
    /// A fitting is moved on the plate.
    MoveFitting,
    /// A circle of studs is made wider or narrower.
    MoveStuds,
    /// The housing is turned about its axis.
    TurnHousing,
    /// The sidewall is made higher or lower.
    HeightenHousing,
}

impl Record {
    /// Writes guidance down beside the fittings that it is about.
    pub fn advise(&mut self, advice: &[advise::Advice], car: &CarTop, kit: &Kit) {
        for one in advice {
            let Some(name) = car.fittings.get(one.fitting).map(|f| &f.name) else { continue };
            if let Some(fitting) = self.fittings.iter_mut().find(|f| f.name == *name) {
                fitting.guidance = Some(Guidance::of(one, car, kit));
            }
        }
    }
}

fn names(car: &CarTop, fittings: &[usize]) -> Vec<String> {
    fittings.iter().filter_map(|f| Some(car.fittings.get(*f)?.name.clone())).collect()
}

impl Guidance {
    fn of(advice: &advise::Advice, car: &CarTop, kit: &Kit) -> Self {
        let spoiling = advice.spoiling.iter().map(|s| Spoiling {
            change: ChangeTold::of(&s.change, car),
            spoils: names(car, &s.spoils),
        });
        Self {
            changes: advice.helps.iter().filter_map(|h| Suggested::of(h, car, kit)).collect(),
            spoiling: spoiling.collect(),
            ways: advice.ways,
            ruled_out: advice.ruled_out,
            tried: advice.tried,
        }
    }

    /// What was looked for and how, in a sentence without its full stop.
    pub fn extent(&self, unit: LengthUnit) -> String {
        let (far, turn) = FARTHEST;
        let looked = format!(
            "{} ways of changing the car top looked at, up to {} and {}",
            self.ways,
            Length::from_mm(far).show(unit),
            Angle::from_degrees(turn).show(),
        );
        match self.ruled_out {
            0 => looked,
            ruled_out => format!("{looked}; {ruled_out} of them are proven not to help"),
        }
    }
}

impl Suggested {
    fn of(help: &advise::Help, car: &CarTop, kit: &Kit) -> Option<Self> {
        Some(Self {
            change: ChangeTold::of(&help.change, car),
            verdict: help.study.verdict.into(),
            cup: kit.cups.get(help.cup)?.name.clone(),
            removed: removed_names(car, &help.study.choice.as_ref()?.removed),
            least_margin_mm: help.study.least()?.into(),
            still_fit: names(car, &help.others),
        })
    }

    /// In a sentence without its full stop: `move V3 outward 6.1 mm: fits with cup C, 1.20 mm to
    /// spare; V1, V2 still fit`. `of` is the fitting that it is about.
    pub fn sentence(&self, of: &str, unit: LengthUnit) -> String {
        let off = if self.removed.is_empty() {
            String::new()
        } else {
            format!(" ({})", words::removals(&self.removed, of))
        };
        let spare = self.least_margin_mm.low.map_or(0.0, |low| low);
        let others = match self.still_fit.as_slice() {
            [] => String::new(),
            [one] => format!("; {one} still fits"),
            more => format!("; {} still fit", more.join(", ")),
        };
        format!(
            "{}: {}{off} with cup {}, {} to spare{others}",
            self.change.sentence(unit),
            words::verdict(self.verdict),
            self.cup,
            words::down(spare, unit),
        )
    }
}

impl Spoiling {
    /// In a sentence without its full stop.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let spoilt = self.spoils.join(", ");
        format!("{}: it would fit, but then no longer {spoilt}", self.change.sentence(unit))
    }
}

impl ChangeTold {
    fn of(change: &Change, car: &CarTop) -> Self {
        let by = change.by;
        let fitting = |f: &usize| car.fittings.get(*f).map(|f| f.name.clone());
        let told = |kind: ChangeKind, what: Option<String>| Self {
            kind,
            what,
            toward: None,
            toward_deg: None,
            between_mm: None,
            ports: None,
            by_mm: (!change.way.is_turn()).then_some(by),
            by_deg: change.way.is_turn().then(|| Angle::from_radians(by).degrees()),
            stop_deg: None,
        };
        match &change.way {
            Way::LidStop => {
                let stop = match &car.lid {
                    assembly::car_top::LidState::Hinged(lid) => Some(lid.stop),
                    _ => None,
                };
                let stop = stop.map(|s| Angle::from_radians(s.radians() + by).degrees());
                Self { stop_deg: stop, ..told(ChangeKind::LidStop, None) }
            }
            Way::TurnFitting { fitting: f } => told(ChangeKind::TurnFitting, fitting(f)),
            Way::StretchFitting { fitting: f, range } => {
                Self { between_mm: Some(*range), ..told(ChangeKind::ShortenFitting, fitting(f)) }
            }
            Way::MoveFitting { fitting: f, toward } => {
                let outward = car.fittings.get(*f).and_then(|f| advise::outward_of(f.centre));
                Self {
                    toward: Some(direction(*toward, outward)),
                    toward_deg: Some(toward.degrees().rem_euclid(360.0)),
                    ..told(ChangeKind::MoveFitting, fitting(f))
                }
            }
            Way::SpreadStuds { studs } => {
                let name = car.bodies.get(studs.0).map(|b| b.body.name.clone());
                told(ChangeKind::MoveStuds, name)
            }
            Way::TurnHousing { .. } => told(ChangeKind::TurnHousing, None),
            Way::StretchHousing { range } => Self {
                between_mm: Some(*range),
                ports: Some(ports(car, *range, by).into()),
                ..told(ChangeKind::HeightenHousing, None)
            },
        }
    }

    /// In words: `move V3 outward 6.1 mm`.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let what = self.what.as_deref().unwrap_or("the housing");
        let mm = self.by_mm.unwrap_or(0.0);
        let deg = self.by_deg.unwrap_or(0.0);
        let length = Length::from_mm(mm.abs()).show(unit);
        let angle = Angle::from_degrees(deg.abs()).show();
        let round = if deg < 0.0 { "clockwise" } else { "counter-clockwise" };
        let between = self.between_mm.map_or_else(String::new, |[low, high]| {
            let show = |mm: f64| Length::from_mm(mm).show(unit);
            format!(", where it is straight between {} and {} up", show(low), show(high))
        });
        match self.kind {
            ChangeKind::LidStop => {
                let stop = Angle::from_degrees(self.stop_deg.unwrap_or(0.0)).show();
                let more = if deg < 0.0 { "less far" } else { "farther" };
                format!("let the lid open {angle} {more}, to a stop at {stop}")
            }
            ChangeKind::TurnFitting => format!("turn {what} {angle} {round} about its centreline"),
            ChangeKind::ShortenFitting => format!("make {what} {length} shorter{between}"),
            ChangeKind::MoveFitting => match self.toward.as_deref() {
                Some(way @ ("outward" | "inward")) => format!("move {what} {way} {length}"),
                way => format!("move {what} {length} toward {}", way.unwrap_or("the hinge")),
            },
            ChangeKind::MoveStuds => {
                let way = if mm < 0.0 { "inward" } else { "outward" };
                format!("move each of {what} {way} {length}")
            }
            ChangeKind::TurnHousing => {
                format!("turn the housing with its ports and lid {angle} {round}")
            }
            ChangeKind::HeightenHousing => {
                let more = if mm < 0.0 { "lower" } else { "higher" };
                let ports = self.ports.as_ref().map_or_else(String::new, |p| format!("; {p}"));
                format!("make the housing {length} {more}{between}{ports}")
            }
        }
    }
}

/// What becomes of the ports when the sidewall is stretched in a range.
fn ports(car: &CarTop, range: [f64; 2], by: f64) -> &'static str {
    let all =
        |what: PortStretch| car.ports.iter().all(|port| PortStretch::of(port, range) == Some(what));
    if all(PortStretch::Stays) {
        "the ports stay"
    } else if all(PortStretch::Rises) {
        if by < 0.0 { "the ports come down with it" } else { "the ports go up with it" }
    } else if all(PortStretch::Grows) {
        if by < 0.0 { "the ports become lower" } else { "the ports become taller" }
    } else {
        "the ports differ: those above move with it, those across it change their height"
    }
}

/// A way on the plate in words.
fn direction(toward: Angle, outward: Option<f64>) -> String {
    let off = outward.map(|o| (toward.radians() - o).cos());
    match off {
        Some(cos) if cos > 1.0 - 1e-9 => "outward".into(),
        Some(cos) if cos < -1.0 + 1e-9 => "inward".into(),
        _ => toward.show_clock(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MM: LengthUnit = LengthUnit::Millimetre;

    fn told(kind: ChangeKind) -> ChangeTold {
        ChangeTold {
            kind,
            what: Some("V3".into()),
            toward: None,
            toward_deg: None,
            between_mm: None,
            ports: None,
            by_mm: None,
            by_deg: None,
            stop_deg: None,
        }
    }

    #[test]
    fn a_move_is_told_with_cup_margin_and_neighbours() {
        let suggested = Suggested {
            change: ChangeTold {
                toward: Some("outward".into()),
                by_mm: Some(6.1),
                ..told(ChangeKind::MoveFitting)
            },
            verdict: Verdict::FitsAfterRemoval,
            cup: "C".into(),
            removed: vec![Removed { fitting: "V3".into(), piece: "handwheel".into() }],
            least_margin_mm: Bounds { low: Some(1.209), high: Some(1.5) },
            still_fit: vec!["V1".into(), "V2".into()],
        };
        assert_eq!(
            suggested.sentence("V3", MM),
            "move V3 outward 6.1 mm: fits after removal (handwheel) with cup C, 1.20 mm to spare; \
             V1, V2 still fit"
        );
    }

    #[test]
    fn signs_are_told_in_words() {
        let deg = |kind, by| ChangeTold { by_deg: Some(by), ..told(kind) }.sentence(MM);
        let mm = |kind, by| ChangeTold { by_mm: Some(by), ..told(kind) }.sentence(MM);
        assert_eq!(
            deg(ChangeKind::TurnFitting, -4.0),
            "turn V3 4.0 deg clockwise about its centreline"
        );
        assert_eq!(mm(ChangeKind::MoveStuds, -2.0), "move each of V3 inward 2.0 mm");
        let lid = ChangeTold {
            by_deg: Some(-5.0),
            stop_deg: Some(110.0),
            what: None,
            ..told(ChangeKind::LidStop)
        };
        assert_eq!(lid.sentence(MM), "let the lid open 5.0 deg less far, to a stop at 110.0 deg");
        let higher = ChangeTold {
            by_mm: Some(3.0),
            between_mm: Some([157.0, 262.0]),
            what: None,
            ..told(ChangeKind::HeightenHousing)
        };
        assert_eq!(
            higher.sentence(MM),
            "make the housing 3.0 mm higher, where it is straight between 157.0 mm and 262.0 mm up"
        );
    }

    #[test]
    fn ways_on_the_plate_are_outward_inward_or_by_the_clock() {
        let at = |deg: f64| direction(Angle::from_degrees(deg), Some(0.5));
        assert_eq!(at(0.5_f64.to_degrees()), "outward");
        assert_eq!(at(180.0 + 0.5_f64.to_degrees()), "inward");
        assert_eq!(at(-90.0), "3 o'clock");
        assert_eq!(direction(Angle::ZERO, None), "12 o'clock");
    }
}
