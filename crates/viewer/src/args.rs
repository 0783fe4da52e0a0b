//! What can be written on the command line. The commands work on settings, as meant, which are apart from
//! these.

use crate::picture::{Into, Section, Settings, When};
use crate::window::Source;
use clap::{Parser, Subcommand, ValueEnum};
use display::View;
use front::document;
use measure::{Length, LengthUnit};
use std::path::PathBuf;
use std::time::Instant;

/// Look at a car top with the rig on it: what limits, and how it goes on.
///
/// A planning aid, not a procedure.
#[derive(Debug, Parser)]
#[command(name = "overcup-view", version, max_term_width = 100)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Picture(Picture),
    Show(Show),
}

/// Open a window on the reviewed car top: see what limits, try placements by hand, play the installation.
///
/// Exit status: 0 when the window was shown, 2 when the input is at fault or nothing draws.
#[derive(Debug, clap::Args)]
pub(crate) struct Show {
    /// The case: a case.toml, or the folder that holds it
    #[arg(required_unless_present = "lesson")]
    case: Option<PathBuf>,
    /// The kit: a kit.toml, or the folder that holds it [default: the kit.toml beside the case or
    /// one folder up]
    #[arg(long, value_name = "KIT", conflicts_with = "lesson")]
    kit: Option<PathBuf>,
    /// The fitting to begin with [default: the first]
    #[arg(long, value_name = "NAME", conflicts_with = "lesson")]
    fitting: Option<String>,
    /// A lesson to run, in place of a case: its document names case and kit
    #[arg(long, value_name = "LESSON", conflicts_with = "case")]
    lesson: Option<PathBuf>,
    /// Print what the window tells too, a line each time it changes, as for a screen reader; and once how
    /// long it took from the start to the first useful picture
    #[arg(long)]
    tell: bool,
}

impl Show {
    /// What is meant, of a program that began then.
    pub(crate) fn settings(self, began: Instant) -> crate::window::Settings {
        crate::window::Settings {
            source: match (self.lesson, self.case) {
                (Some(lesson), _) => Source::Lesson(lesson),
                (None, case) => Source::Case {
                    // The command line asks for one of them.
                    case: document(case.unwrap_or_default(), "case.toml"),
                    kit: self.kit.map(|kit| document(kit, "kit.toml")),
                },
            },
            fitting: self.fitting,
            tells: self.tell,
            began,
        }
    }
}

/// Write a picture (PNG) of a fitting with the rig on it, or the installation as numbered pictures.
///
/// Exit status: 0 when the fitting can be covered, 1 when it cannot or it cannot be told (the picture
/// shows the best placement found), 2 when the input is at fault, nothing draws or a file could not be
/// written.
#[derive(Debug, clap::Args)]
#[expect(clippy::struct_excessive_bools, reason = "each stands for a word on the command line")]
pub(crate) struct Picture {
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
    /// From where it is looked at [default: corner, or where the figure of --mark is seen from]
    #[arg(long, value_enum, value_name = "VIEW")]
    view: Option<Standing>,
    /// Lines that are parallel stay so, and what is far is as large as what is near
    #[arg(long)]
    parallel: bool,
    /// Cut along the bar, across it through the cup's axis, or level at a height over the plate, such as
    /// "level=4 1/2 in"; may be given several times
    #[arg(long = "section", value_name = "PLANE")]
    sections: Vec<String>,
    /// Look at one figure, by its number in the list that is printed, and cut through it
    #[arg(long, value_name = "N")]
    mark: Option<usize>,
    /// Show the installation after step N, or at a time, such as "4.5 s" [default: when all is done]
    #[arg(long, value_name = "N|TIME")]
    at: Option<String>,
    /// Show only this part, by its name; "*" stands for any letters; may be given several times
    #[arg(long = "only", value_name = "PART")]
    only: Vec<String>,
    /// Show this part faintly, likewise
    #[arg(long = "ghost", value_name = "PART")]
    ghosts: Vec<String>,
    /// Draw the parts of the rig apart, without figures
    #[arg(long, conflicts_with_all = ["at", "frames", "mark"])]
    explode: bool,
    /// Leave what is behind everything transparent
    #[arg(long)]
    transparent: bool,
    /// Write the names of the rig's parts beside them
    #[arg(long)]
    names: bool,
    /// Leave out the figures
    #[arg(long)]
    no_figures: bool,
    /// Width and height in pixels, from 160x120 to 7680x4320
    #[arg(long, value_name = "WxH", default_value = "1280x800", overrides_with = "size")]
    size: String,
    /// Unit of the lengths written [default: the case's]
    #[arg(long, value_enum, value_name = "UNIT")]
    units: Option<Unit>,
    /// The picture to write, which must not exist yet
    #[arg(long, value_name = "FILE", required_unless_present = "frames")]
    out: Option<PathBuf>,
    /// Draw N frames more from all round, and tell how long one takes here; N from 1 to 10000
    #[arg(long, value_name = "N", conflicts_with = "frames")]
    timed: Option<u32>,
    /// Write the whole installation as numbered pictures into this folder, which must be new or empty
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["out", "at"])]
    frames: Option<PathBuf>,
    /// Pictures for a second of the installation, from 1 to 60
    #[arg(long, value_name = "N", default_value_t = 12, requires = "frames")]
    fps: u32,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Unit {
    /// Inches
    In,
    /// Millimetres
    Mm,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Standing {
    /// Straight down, the hinge at the top
    Above,
    /// Level, along the bar
    AlongBar,
    /// Level, square to the bar
    AcrossBar,
    /// From over the hinge
    FromHinge,
    /// From over the side away from the hinge, half to the right
    Corner,
}

impl Standing {
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

impl Picture {
    /// What is meant, or every fault of what is written.
    pub(crate) fn settings(self) -> Result<Settings, Vec<front::Plain>> {
        let mut faults = Vec::new();
        let size = kept(size(&self.size), &mut faults);
        let planes: Vec<Option<Section>> =
            self.sections.iter().map(|text| kept(plane(text), &mut faults)).collect();
        let at = self.at.as_deref().map(|text| kept(when(text), &mut faults));
        if !(1..=60).contains(&self.fps) {
            faults.push(front::Plain::new(
                format!("{} pictures a second are asked for", self.fps),
                "--fps takes a number from 1 to 60",
            ));
        }
        if self.timed.is_some_and(|frames| !(1..=10_000).contains(&frames)) {
            faults.push(front::Plain::new(
                "as many frames are not timed",
                "--timed takes a number from 1 to 10000",
            ));
        }
        if planes.len() > crate::scene::MOST_CUTS {
            faults.push(front::Plain::new(
                format!("{} planes are asked for", planes.len()),
                format!("--section may be given {} times", crate::scene::MOST_CUTS),
            ));
        }
        let into = match (self.out, self.frames) {
            (_, Some(folder)) => Into::Frames { folder, per_second: self.fps },
            (Some(file), None) => Into::File(file),
            // The command line asks for one of them.
            (None, None) => Into::File(PathBuf::new()),
        };
        let Some(size) = size.filter(|_| faults.is_empty()) else { return Err(faults) };
        Ok(Settings {
            case: document(self.case, "case.toml"),
            kit: self.kit.map(|kit| document(kit, "kit.toml")),
            fitting: self.fitting,
            cups: self.cups,
            view: self.view.map(Standing::view),
            is_parallel: self.parallel,
            sections: planes.into_iter().flatten().collect(),
            mark: self.mark,
            at: at.flatten(),
            only: self.only,
            ghosts: self.ghosts,
            is_exploded: self.explode,
            is_transparent: self.transparent,
            has_names: self.names,
            has_figures: !self.no_figures,
            size,
            timed: self.timed,
            unit: self.units.map(|unit| match unit {
                Unit::In => LengthUnit::Inch,
                Unit::Mm => LengthUnit::Millimetre,
            }),
            into,
        })
    }
}

fn kept<T>(read: Result<T, front::Plain>, faults: &mut Vec<front::Plain>) -> Option<T> {
    read.map_err(|fault| faults.push(fault)).ok()
}

/// Width and height.
fn size(text: &str) -> Result<[u32; 2], front::Plain> {
    let read = text.split_once('x').and_then(|(w, h)| {
        let size = [w.trim().parse().ok()?, h.trim().parse().ok()?];
        let [width, height] = size;
        let is_drawn = (160..=7680).contains(&width) && (120..=4320).contains(&height);
        is_drawn.then_some(size)
    });
    read.ok_or_else(|| {
        front::Plain::new(
            format!("\"{text}\" is no size of a picture"),
            "give width and height in pixels, from 160x120 to 7680x4320: --size 1280x800",
        )
    })
}

fn plane(text: &str) -> Result<Section, front::Plain> {
    let remedy = "--section takes along-bar, across-bar or a height with its unit: \
                  \"level=4 1/2 in\"";
    match text.split_once('=').map_or((text, None), |(name, value)| (name, Some(value))) {
        ("along-bar", None) => Ok(Section::AlongBar),
        ("across-bar", None) => Ok(Section::AcrossBar),
        ("level", Some(height)) => match height.trim().parse::<Length>() {
            Ok(height) => Ok(Section::Level(height)),
            Err(error) => {
                Err(front::Plain::new(format!("the height of --section {text}: {error}"), remedy))
            }
        },
        _ => Err(front::Plain::new(format!("--section \"{text}\" is no plane"), remedy)),
    }
}

fn when(text: &str) -> Result<When, front::Plain> {
    let seconds = text.trim().strip_suffix('s').map(|seconds| seconds.trim().parse::<f64>());
    match seconds {
        Some(Ok(seconds)) if seconds.is_finite() && seconds >= 0.0 => Ok(When::Seconds(seconds)),
        None if text.trim().parse::<usize>().is_ok() => {
            Ok(When::AfterStep(text.trim().parse().unwrap_or_default()))
        }
        _ => Err(front::Plain::new(
            format!("--at \"{text}\" is no step and no time"),
            "give the number of a step, or a time with its unit: \"4.5 s\"",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_planes_and_times_are_read() {
        assert_eq!(size("1280x800").unwrap(), [1280, 800]);
        for bad in ["", "x", "1280", "1280x", "20x20", "9000x800", "-1x2"] {
            assert!(size(bad).is_err(), "{bad}");
        }
        assert_eq!(plane("along-bar").unwrap(), Section::AlongBar);
        assert_eq!(plane("level=1 in").unwrap(), Section::Level("25.4 mm".parse().unwrap()));
        for bad in ["level", "level=", "level=4", "along-bar=2 in", "sideways"] {
            assert!(plane(bad).is_err(), "{bad}");
        }
        assert_eq!(when("3").unwrap(), When::AfterStep(3));
        assert_eq!(when("4.5 s").unwrap(), When::Seconds(4.5));
        for bad in ["", "-1", "-1 s", "s", "4.5", "inf s", "NaN s"] {
            assert!(when(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn every_fault_of_a_command_line_is_told() {
        let args = Args::try_parse_from([
            "overcup-view",
            "picture",
            "c",
            "--frames",
            "f",
            "--fps",
            "99",
            "--size",
            "1x1",
            "--section",
            "no",
        ]);
        let Command::Picture(picture) = args.unwrap().command else { panic!("a picture") };
        assert_eq!(picture.settings().err().unwrap().len(), 3);
    }
}
