//! `overcup-view picture`.

use crate::eye::{Eye, single};
use crate::ground::{Ground, is_cut_away};
use crate::headless::Headless;
use crate::overlay::{FOOT, HEAD, Note, Overlay};
use crate::scene::{self, Look};
use crate::{Answer, driver};
use display::{DisplayList, Interference, Item, Mark, Plane, Role, Shown, Stage, View, Which};
use front::{Plain, Reviewed, Stopped, file, folder, one_fitting, read, reviewed, unmade};
use image::{ExtendedColorType, ImageEncoder as _, codecs::png};
use measure::{Length, LengthUnit};
use nalgebra::{Point3, Translation3, Unit, UnitQuaternion, Vector3};
use review::{CAUTION, Verdict};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// What to draw, and where to.
#[expect(clippy::struct_excessive_bools, reason = "each stands for a word on the command line")]
pub(crate) struct Settings {
    /// The case document.
    pub(crate) case: PathBuf,
    /// The kit document; `None` looks for one.
    pub(crate) kit: Option<PathBuf>,
    /// The fitting by name; `None` where the case has only one.
    pub(crate) fitting: Option<String>,
    /// Cups by name; none asks for all.
    pub(crate) cups: Vec<String>,
    /// From where; `None` from the corner, or from where the mark is seen.
    pub(crate) view: Option<View>,
    /// Whether the picture is parallel.
    pub(crate) is_parallel: bool,
    /// By what it is cut.
    pub(crate) sections: Vec<Section>,
    /// The figure to look at, by its number, from one.
    pub(crate) mark: Option<usize>,
    /// When; `None` when all is done.
    pub(crate) at: Option<When>,
    /// Names of the parts that are shown, all others not; none shows all.
    pub(crate) only: Vec<String>,
    /// Names of the parts that are shown faintly.
    pub(crate) ghosts: Vec<String>,
    /// Whether the rig's parts are drawn apart.
    pub(crate) is_exploded: bool,
    /// Whether nothing is behind everything.
    pub(crate) is_transparent: bool,
    /// Whether the rig's parts have their names.
    pub(crate) has_names: bool,
    /// Whether figures are drawn.
    pub(crate) has_figures: bool,
    /// Width and height, pixels.
    pub(crate) size: [u32; 2],
    /// How many frames more are drawn to tell how long one takes.
    pub(crate) timed: Option<u32>,
    /// Unit of the lengths written; `None` the case's.
    pub(crate) unit: Option<LengthUnit>,
    /// Where to.
    pub(crate) into: Into,
}

/// A plane of section by what it goes through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Section {
    /// Upright, along the bar's middle.
    AlongBar,
    /// Upright, square to the bar, through the cup's axis.
    AcrossBar,
    /// Level, so far over the plate.
    Level(Length),
}

/// A moment of the installation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum When {
    /// When the step of this number has been done; zero before the first.
    AfterStep(usize),
    /// So many seconds after the beginning.
    Seconds(f64),
}

/// What is written.
pub(crate) enum Into {
    /// One picture.
    File(PathBuf),
    /// The installation, so many pictures a second.
    Frames {
        /// The folder.
        folder: PathBuf,
        /// Pictures a second.
        per_second: u32,
    },
}

/// A picture draws no more triangles than this; a large one has as many pixels. Our choice.
const MOST_TRIANGLES: usize = 1_000_000;

/// Reads, reviews the fitting, draws it.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    match &settings.into {
        Into::File(path) => file::check_free(path)?,
        Into::Frames { folder, .. } => folder::check_free(folder)?,
    }
    driver::check()?;
    let (case, kit) = read(&settings.case, settings.kit.as_deref())?;
    let fitting = one_fitting(&case.car, settings.fitting.as_deref(), "a picture")?;
    let Reviewed { case, kit, found, record, .. } =
        reviewed((case, kit), (&[fitting], &settings.cups), None, &|_| {})?;
    let unit = settings.unit.unwrap_or(case.car.unit);
    let shown = found.fittings.first().and_then(|f| Some((f.fitting, f.chosen()?)));
    let list = match shown {
        Some((fitting, chosen)) => DisplayList::of(&case.car, &kit.kit, fitting, &chosen.study)
            .map_err(|error| unmade(&error, &kit))?
            .map(|list| (list, chosen.study.verdict)),
        None => None,
    };
    let Some((mut list, verdict)) = list else {
        return Err(Plain::new("there is nothing to show", "ask for a cup of the kit").into());
    };
    if let Some(recorded) = record.fittings.first() {
        list.marks = display::marks(recorded, unit);
    }
    if let Some((_, chosen)) = shown {
        let scene = fitup::Scene::new(&case.car, &kit.kit).map_err(|error| unmade(&error, &kit))?;
        let found = review::interferences(&scene, &chosen.study);
        list.interferences = display::interferences(found, &list.marks);
    }
    choose(settings, &mut list).map_err(Stopped::Asked)?;
    list.simplify(MOST_TRIANGLES);
    if settings.view == Some(View::FromHinge) {
        // It stands before everything else.
        let lid = list.items.iter_mut().filter(|i| i.role == Role::Lid && i.shown == Shown::Solid);
        lid.for_each(|lid| lid.shown = Shown::Ghost);
    }
    if settings.is_exploded {
        take_apart(&mut list);
    }
    let shot = Shot::of(settings, &list, unit)?;
    let written = match &settings.into {
        Into::File(path) => one(settings, &shot, &list, verdict, path)?,
        Into::Frames { folder, per_second } => {
            frames(settings, &shot, &list, verdict, (folder, *per_second))?
        }
    };
    // A reader that stops reading early is no fault.
    let _ = std::io::stdout().write_all(told(&list, &written).as_bytes());
    Ok(if found.all_fit() { Answer::Yes } else { Answer::No })
}

/// Moves the rig's parts apart; what was measured between them has no place then.
fn take_apart(list: &mut DisplayList<'_>) {
    let apart = list.apart(1.0);
    for (item, off) in list.items.iter_mut().zip(apart) {
        item.place = Translation3::from(off) * item.place;
        item.track.keys.clear();
    }
    list.marks.clear();
    list.interferences.clear();
}

/// Shows the parts that are asked for; every name that is no part's is a fault.
fn choose(settings: &Settings, list: &mut DisplayList<'_>) -> Result<(), Vec<Plain>> {
    let mut faults = Vec::new();
    if !settings.only.is_empty() {
        list.show(Which::Every, Shown::Hidden);
    }
    for (names, shown) in [(&settings.only, Shown::Solid), (&settings.ghosts, Shown::Ghost)] {
        for name in names {
            if list.show(Which::Named(name), shown) == 0 {
                let mut known: Vec<&str> = list.items.iter().map(|i| i.name.as_str()).collect();
                known.dedup();
                faults.push(Plain::new(
                    format!("there is no part \"{name}\""),
                    format!("known are: {}", known.join(", ")),
                ));
            }
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// From where a picture is taken, when, and by what it is cut.
struct Shot {
    eye: Eye,
    /// `None` when all is done.
    at: Option<f64>,
    cuts: Vec<Plane>,
    /// Added to the heading.
    words: Vec<String>,
    /// Which figures are shown, by their places in the list.
    marks: Vec<usize>,
    letters: f64,
}

impl Shot {
    fn of(settings: &Settings, list: &DisplayList<'_>, unit: LengthUnit) -> Result<Self, Plain> {
        let [width, height] = settings.size.map(f64::from);
        let letters = letters(height);
        // The strips at the top and at the bottom are for what is written.
        let strips = [HEAD, FOOT].map(|strip| f64::from(strip) * letters);
        let inner = height - strips[0] - strips[1];
        let aspect = width / inner;
        let mark = settings.mark.map(|number| chosen(&list.marks, number)).transpose()?;
        let at = settings.at.map(|when| when.seconds(list)).transpose()?;
        let mut words = Vec::new();
        let mut cuts = Vec::new();
        let framing = match (settings.view, mark) {
            (None, Some(mark)) => list.framing_of(mark, aspect),
            (view, _) => {
                let moments = match (&settings.into, at) {
                    (Into::Frames { .. }, _) => Moments::All,
                    (Into::File(_), Some(at)) => Moments::One(at),
                    (Into::File(_), None) => Moments::Done,
                };
                seen_at(list, moments).framing_with_lid(view.unwrap_or(View::Corner), aspect)
            }
        };
        let seen = match (settings.view, mark) {
            (None, Some(_)) => format!("figure {}", settings.mark.unwrap_or_default()),
            (view, _) => view.unwrap_or(View::Corner).word().replace('-', " "),
        };
        words.push(seen);
        if let Some(mark) = mark {
            cuts.push(list.plane_of(mark, &framing));
            words.push("cut through it".into());
        }
        for section in &settings.sections {
            let (plane, name) = section.plane(list, &(framing.eye - framing.target), unit)?;
            cuts.push(plane);
            words.push(name);
        }
        if settings.is_parallel {
            words.push("parallel".into());
        }
        let marks = match mark {
            Some(_) => settings.mark.and_then(|number| number.checked_sub(1)).into_iter().collect(),
            None => (0..list.marks.len()).filter(|i| list.marks[*i].is_strong).collect(),
        };
        Ok(Self {
            eye: Eye { framing, is_parallel: settings.is_parallel }
                .with_room(strips.map(|s| s / height)),
            at,
            cuts,
            words,
            marks: if settings.has_figures { marks } else { Vec::new() },
            letters,
        })
    }

    /// An application with the scene in it.
    fn open(&self, settings: &Settings, list: &DisplayList<'_>) -> Headless {
        let mut headless = Headless::new(settings.size, settings.is_transparent);
        headless.look_from(&self.eye);
        let line = single(self.letters / 13.0).max(0.9);
        headless.world().insert_resource(Look { at: self.at, cuts: self.cuts.clone(), line });
        scene::spawn(headless.world(), list);
        scene::cut(headless.world(), list);
        scene::overlaps(headless.world(), &self.interferences(list, self.at));
        headless
    }

    /// The figures that are shown: what was measured is so when all is done.
    fn marks(&self, list: &DisplayList<'_>, at: Option<f64>) -> &[usize] {
        if at.is_none_or(|at| at >= list.lasts()) { &self.marks } else { &[] }
    }

    /// Where parts run into each other, of the figures that are shown.
    fn interferences<'l>(
        &self,
        list: &'l DisplayList<'_>,
        at: Option<f64>,
    ) -> Vec<&'l Interference> {
        let marks = self.marks(list, at);
        list.interferences.iter().filter(|found| marks.contains(&found.mark)).collect()
    }

    /// The lines in which parts cross, as far as they are not cut away.
    fn crossings(&self, list: &DisplayList<'_>, at: Option<f64>) -> Vec<Vec<Point3<f64>>> {
        let lines = self.interferences(list, at).into_iter().flat_map(|found| &found.lines);
        lines
            .flat_map(|line| {
                let mut points = line.points.clone();
                points.extend(line.closed.then(|| line.points.first().copied()).flatten());
                let left: Vec<Vec<Point3<f64>>> =
                    points.split(|p| is_cut_away(&self.cuts, p)).map(<[_]>::to_vec).collect();
                left
            })
            .filter(|points| points.len() > 1)
            .collect()
    }

    /// What is written over the picture at a moment.
    fn overlay(
        &self,
        settings: &Settings,
        list: &DisplayList<'_>,
        verdict: Verdict,
        at: Option<f64>,
    ) -> Overlay {
        let cup = list.cup.as_ref().map_or_else(String::new, |cup| format!(", cup {cup}"));
        let mut about = self.words.clone();
        about.extend(at.map(|at| stage(list, at)));
        let verdict_line = format!("{}: {}{cup}", list.fitting, list.verdict);
        let heading = vec![verdict_line, list.title.clone(), about.join(" \u{b7} ")];
        let marks = self.marks(list, at).iter().filter_map(|index| list.marks.get(*index));
        let mut notes: Vec<Note> = marks.map(Note::of).collect();
        let has_notes = settings.has_names || !notes.is_empty();
        let size = settings.size.map(f64::from);
        let ground = if has_notes {
            Ground::of(list, (&self.eye, size), at.unwrap_or_else(|| list.lasts()), &self.cuts)
        } else {
            Ground::default()
        };
        if settings.has_names {
            notes.extend(names(list, (&self.eye, &ground), at));
        }
        Overlay {
            eye: Some(self.eye),
            heading,
            verdict: Some(verdict),
            notes,
            lines: self.crossings(list, at),
            busy: ground.busy(self.letters),
            foot: short_caution().into(),
            letters: single(self.letters),
        }
    }
}

/// The figure of this number.
fn chosen(marks: &[Mark], number: usize) -> Result<&Mark, Plain> {
    number.checked_sub(1).and_then(|index| marks.get(index)).ok_or_else(|| {
        let known: Vec<String> =
            (1..).zip(marks).map(|(n, mark)| format!("{n}: {}", said(mark))).collect();
        Plain::new(
            format!("there is no figure {number}"),
            if known.is_empty() {
                "nothing was measured, since no placement was found".into()
            } else {
                format!("known are\n{}", known.join("\n"))
            },
        )
    })
}

fn said(mark: &Mark) -> String {
    format!("{}: {}", mark.check, mark.sentence)
}

/// Of which moments everything is to be seen.
#[derive(Debug, Clone, Copy)]
enum Moments {
    /// When all is done.
    Done,
    /// At one, seconds.
    One(f64),
    /// At every one.
    All,
}

/// So far from its place a part that comes is within the picture, mm. Our choice.
const NEAR: f64 = 250.0;

/// A list for framing alone, with everything where it is at those moments; what comes from far away
/// comes from outside of the picture.
fn seen_at<'l>(list: &DisplayList<'l>, moments: Moments) -> DisplayList<'l> {
    let mut seen = list.clone();
    match moments {
        Moments::Done => {}
        Moments::One(at) => {
            for item in &mut seen.items {
                if item.track.comes <= at {
                    item.place = item.track.pose(at).unwrap_or(item.place);
                } else if item.role != Role::Bar {
                    // The bar tells where views are from, so it stays, where it will be.
                    item.shown = Shown::Hidden;
                }
            }
        }
        Moments::All => {
            for item in &list.items {
                for key in &item.track.keys {
                    let mut off =
                        key.plate_from_item.translation.vector - item.place.translation.vector;
                    off *= (NEAR / off.norm()).min(1.0);
                    let place = Translation3::from(off) * item.place;
                    seen.items.push(Item { place, ..item.clone() });
                }
            }
        }
    }
    seen
}

impl Section {
    /// The plane, with what is on the eye's side cut away, and what is said of it.
    fn plane(
        self,
        list: &DisplayList<'_>,
        toward: &Vector3<f64>,
        unit: LengthUnit,
    ) -> Result<(Plane, String), Plain> {
        if let Self::Level(height) = self {
            let point = Point3::new(0.0, 0.0, height.mm());
            let said = format!("cut {} over the plate", height.show(unit));
            return Ok((Plane { point, normal: Vector3::z_axis() }, said));
        }
        let place = |role: Role| list.items.iter().find(|i| i.role == role).map(|i| i.place);
        let (Some(bar), Some(cup)) = (place(Role::Bar), place(Role::Cup)) else {
            return Err(Plain::new(
                "there is no rig to cut along, since no placement was found",
                "cut level: --section \"level=4 in\"",
            ));
        };
        let x = bar * Vector3::x();
        let along = Unit::new_normalize(Vector3::new(x.x, x.y, 0.0));
        let across = Unit::new_normalize(Vector3::z().cross(&along));
        let (normal, point, said) = match self {
            Self::AlongBar => (across, bar.translation.vector, "cut along the bar"),
            _ => (along, cup.translation.vector, "cut across the bar"),
        };
        let normal = if normal.dot(toward) < 0.0 { -normal } else { normal };
        Ok((Plane { point: point.into(), normal }, said.into()))
    }
}

impl When {
    fn seconds(self, list: &DisplayList<'_>) -> Result<f64, Plain> {
        match self {
            Self::Seconds(seconds) if seconds <= list.lasts() => Ok(seconds),
            Self::Seconds(seconds) => Err(Plain::new(
                format!("{seconds} s is after the end of the installation"),
                format!("it takes {:.1} s", list.lasts()),
            )),
            Self::AfterStep(0) => Ok(0.0),
            Self::AfterStep(number) => {
                list.stages.get(number - 1).map(|stage| stage.to).ok_or_else(|| {
                    let line = |(n, stage): (usize, &Stage)| format!("{n}: {}", stage.name);
                    let known: Vec<String> = (1..).zip(&list.stages).map(line).collect();
                    let known = if known.is_empty() { "no steps".into() } else { known.join("\n") };
                    Plain::new(format!("there is no step {number}"), format!("known are\n{known}"))
                })
            }
        }
    }
}

/// What is being done at a moment.
fn stage(list: &DisplayList<'_>, at: f64) -> String {
    let all = list.stages.len();
    let begun = list.stages.iter().take_while(|stage| stage.from <= at && at > 0.0).count();
    match begun.checked_sub(1).and_then(|index| list.stages.get(index)) {
        Some(stage) => format!("step {begun} of {all}: {}", stage.name),
        None => format!("before the first of {all} steps"),
    }
}

/// Names of the rig's parts, each at the point of what is seen of it that is nearest to its middle.
fn names(list: &DisplayList<'_>, (eye, ground): (&Eye, &Ground), at: Option<f64>) -> Vec<Note> {
    let at = at.unwrap_or_else(|| list.lasts());
    let is_rig = |role: Role| {
        matches!(
            role,
            Role::Gasket
                | Role::Cup
                | Role::Outlet
                | Role::Bar
                | Role::Links
                | Role::Pins
                | Role::Screw
        )
    };
    let rig = list.items.iter().filter(|i| is_rig(i.role) && i.shown != Shown::Hidden);
    rig.filter_map(|item| {
        let place = item.place_at(at)?;
        let points: Vec<Point3<f64>> =
            list.meshes.get(item.mesh)?.vertices.iter().map(|p| place * p).collect();
        let seen: Vec<&Point3<f64>> = points.iter().filter(|p| ground.is_seen(eye, p)).collect();
        let is_hidden = seen.is_empty();
        let of = if is_hidden { points.iter().collect() } else { seen };
        let sum = of.iter().fold(Vector3::zeros(), |sum, p| sum + p.coords);
        let middle = Point3::from(sum / of.len().max(1) as f64);
        let away = |p: &Point3<f64>| (p - middle).norm();
        let nearest = of.into_iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
        let text = if is_hidden { format!("{} (hidden)", item.name) } else { item.name.clone() };
        Some(Note { text, short: None, ends: [*nearest; 2], is_strong: false })
    })
    .collect()
}

fn one(
    settings: &Settings,
    shot: &Shot,
    list: &DisplayList<'_>,
    verdict: Verdict,
    path: &Path,
) -> Result<String, Plain> {
    let mut headless = shot.open(settings, list);
    headless.world().insert_resource(shot.overlay(settings, list, verdict, shot.at));
    let pixels = headless.picture()?;
    file::write(path, &png_bytes(settings, pixels)?)?;
    let mut written = path.display().to_string();
    if let Some(frames) = settings.timed {
        let each = timed(shot, &mut headless, frames)?;
        let triangles: usize = list
            .items
            .iter()
            .filter_map(|i| list.meshes.get(i.mesh))
            .map(|m| m.triangles.len())
            .sum();
        // Writing into a string does not fail.
        let _ = write!(
            written,
            "; a frame of {triangles} triangles takes {each:.2} ms, the mean of {frames}"
        );
    }
    Ok(written)
}

/// How long a frame takes, ms: the eye goes round by a degree each, and the last is read back, since only
/// then all before it have been drawn for certain.
fn timed(shot: &Shot, headless: &mut Headless, frames: u32) -> Result<f64, Plain> {
    let began = Instant::now();
    headless.picture()?;
    let one = began.elapsed();
    let began = Instant::now();
    for frame in 1..=frames {
        let mut eye = shot.eye;
        let turn = f64::from(frame).to_radians();
        let round = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turn);
        let target = eye.framing.target;
        eye.framing.eye = target + round * (eye.framing.eye - target);
        eye.framing.up = round * eye.framing.up;
        headless.look_from(&eye);
        headless.frame();
    }
    headless.picture()?;
    let all = began.elapsed().saturating_sub(one);
    Ok(all.as_secs_f64() * 1e3 / f64::from(frames))
}

/// The whole installation, a picture for each moment.
fn frames(
    settings: &Settings,
    shot: &Shot,
    list: &DisplayList<'_>,
    verdict: Verdict,
    (folder, per_second): (&Path, u32),
) -> Result<String, Plain> {
    let unwritten = |error: std::io::Error| Plain::unwritten(&folder.display().to_string(), &error);
    let draft = folder::Draft::beside(folder).map_err(unwritten)?;
    let mut headless = shot.open(settings, list);
    scene::overlaps(headless.world(), &[]);
    let mut number: u32 = 0;
    loop {
        let at = f64::from(number) / f64::from(per_second);
        let is_last = at >= list.lasts();
        let at = at.min(list.lasts());
        headless.world().resource_mut::<Look>().at = Some(at);
        if !shot.cuts.is_empty() {
            scene::cut(headless.world(), list);
        }
        if is_last {
            scene::overlaps(headless.world(), &shot.interferences(list, Some(at)));
        }
        headless.world().insert_resource(shot.overlay(settings, list, verdict, Some(at)));
        let pixels = headless.picture()?;
        let path = draft.path().join(format!("{:05}.png", number + 1));
        std::fs::write(path, png_bytes(settings, pixels)?).map_err(unwritten)?;
        number += 1;
        if is_last {
            break;
        }
    }
    draft.publish(folder).map_err(unwritten)?;
    Ok(format!("{number} pictures in {}", folder.display()))
}

/// What is printed.
fn told(list: &DisplayList<'_>, written: &str) -> String {
    let cup = list.cup.as_ref().map_or_else(String::new, |cup| format!(", cup {cup}"));
    let mut text = format!("{}: {}{cup}; {written}\n", list.fitting, list.verdict);
    // Writing into a string does not fail.
    for (number, mark) in (1..).zip(&list.marks) {
        let _ = writeln!(text, "figure {number}: {}", said(mark));
    }
    let _ = writeln!(text, "\n{CAUTION}");
    // Control characters from the documents never reach the terminal.
    text.retain(|c| c == '\n' || !c.is_control());
    text
}

/// The caution's first sentence.
fn short_caution() -> &'static str {
    CAUTION.split_inclusive('.').next().unwrap_or(CAUTION)
}

/// How large letters are on a picture of this height, pixels.
fn letters(height: f64) -> f64 {
    (height / 50.0).clamp(12.0, 40.0)
}

/// Flat colours and lines: it takes little longer and less than half the bytes.
const SMALL: png::CompressionType = png::CompressionType::Best;

/// The bytes of a PNG file. Where nothing is behind everything, colours are freed of the black that they
/// were blended with, in proportion to the light.
fn png_bytes(settings: &Settings, mut pixels: Vec<u8>) -> Result<Vec<u8>, Plain> {
    if settings.is_transparent {
        for pixel in pixels.chunks_exact_mut(4) {
            if let [r, g, b, opacity @ 1..=254] = pixel {
                let share = f64::from(*opacity) / 255.0;
                for channel in [r, g, b] {
                    *channel = freed(*channel, share);
                }
            }
        }
    }
    let [width, height] = settings.size;
    let mut bytes = Vec::new();
    png::PngEncoder::new_with_quality(&mut bytes, SMALL, png::FilterType::Adaptive)
        .write_image(&pixels, width, height, ExtendedColorType::Rgba8)
        .map_err(|error| Plain::new(error.to_string(), "nothing was written"))?;
    Ok(bytes)
}

/// A channel by the transfer function of IEC 61966-2-1, its light divided by a share.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "within 0 and 255 after clamping"
)]
fn freed(channel: u8, share: f64) -> u8 {
    let c = f64::from(channel) / 255.0;
    let light = if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) } / share;
    let c =
        if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (255.0 * c).round().clamp(0.0, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_blended_with_nothing_is_freed_again() {
        // Full white at half the light is 188 of 255, by the standard's formula.
        assert_eq!(freed(188, 0.5), 255);
        assert_eq!(freed(0, 0.3), 0);
        assert_eq!(freed(200, 1.0), 200);
    }

    #[test]
    fn the_caution_is_a_sentence() {
        assert_eq!(short_caution(), "Caution: this is a planning aid, not a procedure.");
    }
}
