//! `overcup-view`: the pictures of `overcup`. It is started by `overcup picture`, and may be started by
//! itself.
//!
//! The exit status is 0 when the fitting can be covered, 1 when it cannot or it cannot be told (the picture
//! shows the best placement found), 2 when the input is at fault or nothing could be drawn.

use clap::{Parser, Subcommand, ValueEnum};
use display::{DisplayList, Lens, View, marks};
use front::{Plain, Reviewed, Stopped, document, file, folder, read, reviewed, unmade};
use measure::LengthUnit;
use nalgebra::{Point3, Unit as Direction, Vector3};
use std::io::{Cursor, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use viewer::{Look, Pictures, Section, driver};

/// Pictures of a fitting on a tank car's cover plate with the rig on it.
///
/// A planning aid, not a procedure.
#[derive(Debug, Parser)]
#[command(name = "overcup-view", version, max_term_width = 100)]
struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Picture(Picture),
}

/// Write a picture of a fitting with the rig on it, or a numbered sequence of pictures of the
/// installation.
#[derive(Debug, clap::Args)]
struct Picture {
    /// The case: a case.toml, or the folder that holds it
    case: PathBuf,
    /// The kit: a kit.toml, or the folder that holds it [default: the kit.toml beside the case or
    /// one folder up]
    #[arg(long, value_name = "KIT")]
    kit: Option<PathBuf>,
    /// The fitting; may be left out where the case has only one
    #[arg(long, value_name = "NAME")]
    fitting: Option<String>,
    /// Only this cup; may be given several times
    #[arg(long = "cup", value_name = "NAME")]
    cups: Vec<String>,
    /// From where
    #[arg(long, value_enum, value_name = "VIEW", default_value = "corner")]
    view: From,
    /// Draw lengths square to the view true to each other
    #[arg(long)]
    parallel: bool,
    /// Cut away what lies before this plane through the cup's axis, or above it
    #[arg(long, value_enum, value_name = "PLANE")]
    section: Option<Plane>,
    /// The picture at this time of the installation, seconds [default: when all is done]
    #[arg(long, value_name = "SECONDS", conflicts_with = "frames")]
    at: Option<f64>,
    /// Width and height in pixels, from 64 to 8192 each
    #[arg(long, value_name = "WxH", default_value = "1280x800", value_parser = size)]
    size: [u32; 2],
    /// Draw nothing where there is nothing, instead of a background
    #[arg(long)]
    transparent: bool,
    /// Draw the parts alone: no figures, no letters
    #[arg(long)]
    plain: bool,
    /// Unit of the lengths drawn [default: the case's]
    #[arg(long, value_enum, value_name = "UNIT")]
    units: Option<Unit>,
    /// The PNG file to write, which must not exist yet
    #[arg(long, value_name = "FILE", required_unless_present = "frames")]
    out: Option<PathBuf>,
    /// Write pictures of the whole installation into this folder instead, which must be new or empty
    #[arg(long, value_name = "DIR", conflicts_with = "out")]
    frames: Option<PathBuf>,
    /// Pictures a second of the installation, from 1 to 60
    #[arg(long, value_name = "N", default_value_t = 10, requires = "frames",
          value_parser = clap::value_parser!(u32).range(1..=60))]
    rate: u32,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum From {
    /// Straight down, the hinge at the top
    Above,
    /// Level, along the bar
    AlongBar,
    /// Level, square to the bar
    AcrossBar,
    /// From over the hinge
    FromHinge,
    /// From over a corner
    Corner,
}

impl From {
    const fn view(self) -> View {
        match self {
            Self::Above => View::Above,
            Self::AlongBar => View::AlongBar,
            Self::AcrossBar => View::AcrossBar,
            Self::FromHinge => View::FromHinge,
            Self::Corner => View::Corner,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Plane {
    /// Upright, along the bar
    Bar,
    /// Upright, square to the bar
    Cross,
    /// Level, through the middle of the cup
    Level,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Unit {
    /// Inches
    In,
    /// Millimetres
    Mm,
}

/// `1280x800`.
fn size(text: &str) -> Result<[u32; 2], String> {
    let sides = text.split_once('x').and_then(|(w, h)| Some([w.parse().ok()?, h.parse().ok()?]));
    match sides {
        Some(sides) if sides.iter().all(|side| (64..=8192).contains(side)) => Ok(sides),
        _ => Err("write width and height in pixels, from 64 to 8192 each, such as 1280x800".into()),
    }
}

fn main() -> ExitCode {
    let Command::Picture(asked) = Args::parse().command;
    match picture(&asked) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(stopped) => {
            // With stderr gone there is nobody left to tell.
            let stderr = std::io::stderr();
            let plain = anstream::AutoStream::choice(&stderr) == anstream::ColorChoice::Never;
            let _ = anstream::AutoStream::auto(stderr).write_all(stopped.text(!plain).as_bytes());
            ExitCode::from(2)
        }
    }
}

/// Reads, reviews the fitting, draws it. Whether it can be covered.
fn picture(asked: &Picture) -> Result<bool, Stopped> {
    match (&asked.out, &asked.frames) {
        (Some(out), _) => file::check_free(out)?,
        (None, Some(frames)) => folder::check_free(frames)?,
        (None, None) => {}
    }
    if driver::name().is_none() {
        return Err(Plain::new(
            "nothing is there that draws: no Vulkan driver was found",
            "install the graphics card's driver, or one that needs no card: on Debian and its kin \
             the package mesa-vulkan-drivers",
        )
        .into());
    }
    let kit = asked.kit.clone().map(|kit| document(kit, "kit.toml"));
    let documents = read(&document(asked.case.clone(), "case.toml"), kit.as_deref())?;
    let fitting = front::one_fitting(&documents.0.car, asked.fitting.as_deref(), "a picture")?;
    let Reviewed { case, kit, found, record, .. } =
        reviewed(documents, (&[fitting], &asked.cups), None, &|_| {})?;
    let nothing = || Plain::new("there is nothing to show", "ask for a cup of the kit");
    let (one, recorded) =
        found.fittings.first().zip(record.fittings.first()).ok_or_else(nothing)?;
    let study = &one.chosen().ok_or_else(nothing)?.study;
    let list = DisplayList::of(&case.car, &kit.kit, one.fitting, study)
        .map_err(|error| unmade(&error, &kit))?
        .ok_or_else(nothing)?;
    let unit = match asked.units {
        Some(Unit::In) => LengthUnit::Inch,
        Some(Unit::Mm) => LengthUnit::Millimetre,
        None => case.car.unit,
    };
    let look = look(asked, &list, recorded, unit);
    let mut pictures = Pictures::new(&list, &look, asked.size);
    match (&asked.out, &asked.frames) {
        (Some(out), _) => file::write(out, &png(&mut pictures, look.at)?)?,
        (None, Some(frames)) => sequence(&mut pictures, &list, asked.rate, frames)?,
        (None, None) => {}
    }
    Ok(found.all_fit())
}

fn look(
    asked: &Picture,
    list: &DisplayList<'_>,
    recorded: &review::record::Fitting,
    unit: LengthUnit,
) -> Look {
    let [width, height] = asked.size.map(f64::from);
    let framing = list.framing(asked.view.view(), width / height);
    let section = asked.section.map(|plane| {
        let through = list.cup_axis().unwrap_or(framing.target);
        let along = list.along_bar();
        let away = match plane {
            Plane::Bar => Vector3::z().cross(&along),
            Plane::Cross => along,
            Plane::Level => Vector3::z(),
        };
        // What is cut away is what stands before the plane.
        let before = away.dot(&(framing.eye - through)) >= 0.0;
        let away = Direction::new_normalize(if before { away } else { -away });
        let through = match plane {
            Plane::Level => Point3::new(through.x, through.y, 0.5 * list.cup_height()),
            Plane::Bar | Plane::Cross => through,
        };
        Section { through, away }
    });
    let is_done = asked.at.is_none() && asked.frames.is_none();
    let cup = list.cup.as_ref().map_or_else(String::new, |cup| format!(", cup {cup}"));
    let lettered = !asked.plain;
    Look {
        framing,
        lens: if asked.parallel { Lens::Parallel } else { Lens::Perspective },
        at: asked.at.unwrap_or_else(|| list.lasts()),
        section,
        marks: if lettered && is_done { marks(recorded, unit) } else { Vec::new() },
        title: if lettered {
            format!("{} {}{cup}", list.fitting, list.verdict)
        } else {
            String::new()
        },
        foot: if lettered { review::CAUTION.into() } else { String::new() },
        is_transparent: asked.transparent,
    }
}

fn png(pictures: &mut Pictures<'_>, at: f64) -> Result<Vec<u8>, Plain> {
    let unmade =
        |why: String| Plain::new(format!("no picture was made: {why}"), "try another size");
    let image = pictures.at(at).map_err(|error| unmade(error.to_string()))?;
    let image = image.try_into_dynamic().map_err(|error| unmade(error.to_string()))?;
    let mut bytes = Cursor::new(Vec::new());
    image
        .write_to(&mut bytes, image::ImageFormat::Png)
        .map_err(|error| unmade(error.to_string()))?;
    Ok(bytes.into_inner())
}

/// `frame-0001.png` and so on, from the beginning to the end.
fn sequence(
    pictures: &mut Pictures<'_>,
    list: &DisplayList<'_>,
    rate: u32,
    frames: &Path,
) -> Result<(), Plain> {
    let unwritten = |error: std::io::Error| Plain::unwritten(&frames.display().to_string(), &error);
    let draft = folder::Draft::beside(frames).map_err(unwritten)?;
    let mut number = 0_u32;
    loop {
        let at = f64::from(number) / f64::from(rate);
        let name = format!("frame-{:04}.png", number + 1);
        std::fs::write(draft.path().join(name), png(pictures, at.min(list.lasts()))?)
            .map_err(unwritten)?;
        if at >= list.lasts() {
            break;
        }
        number += 1;
    }
    draft.publish(frames).map_err(unwritten)
}
