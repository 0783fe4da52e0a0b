//! What can be written on the command line. The commands work on settings, as meant, which are
//! apart from these.

use crate::check::{Form, Settings};
use crate::intake::From;
use clap::{Parser, Subcommand, ValueEnum};
use front::{Plain, Stopped, document};
use intake::DraftRequest;
use intake::meshes::MeshUnit;
use measure::{Angle, Length, LengthUnit};
use review::Vary;
use std::ffi::OsString;
use std::path::PathBuf;

/// Can a leaking fitting on a tank car's cover plate be covered by a clamped-down cup?
///
/// A planning aid, not a procedure.
#[derive(Debug, Parser)]
#[command(name = "overcup", version, max_term_width = 100)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Intake(Intake),
    Check(Check),
    Hold(Hold),
    Export(Export),
    Inspect(Inspect),
    Verify(Verify),
    Picture(Picture),
    Show(Show),
}

/// Write a picture of a fitting with the rig on it, or the installation as numbered pictures; drawn by
/// overcup-view.
#[derive(Debug, clap::Args)]
#[command(disable_help_flag = true)]
pub(crate) struct Picture {
    /// What overcup-view takes: `overcup picture --help` tells
    #[arg(trailing_var_arg = true, allow_hyphen_values = true, value_name = "ARGUMENTS")]
    pub(crate) passed_on: Vec<OsString>,
}

/// Open a window on the reviewed car top; it is overcup-view's.
#[derive(Debug, clap::Args)]
#[command(disable_help_flag = true)]
pub(crate) struct Show {
    /// What overcup-view takes: `overcup show --help` tells
    #[arg(trailing_var_arg = true, allow_hyphen_values = true, value_name = "ARGUMENTS")]
    pub(crate) passed_on: Vec<OsString>,
}

/// What every command but `verify` reads.
#[derive(Debug, clap::Args)]
struct Documents {
    /// The case: a case.toml, or the folder that holds it
    case: PathBuf,
    /// The kit: a kit.toml, or the folder that holds it [default: the kit.toml beside the case or
    /// one folder up]
    #[arg(long, value_name = "KIT")]
    kit: Option<PathBuf>,
}

impl Documents {
    fn case(&self) -> PathBuf {
        document(self.case.clone(), "case.toml")
    }

    fn kit(&self) -> Option<PathBuf> {
        self.kit.clone().map(|kit| document(kit, "kit.toml"))
    }
}

/// Re-check a record by simple code that shares nothing with the search: every proof that nothing
/// fits or that nothing fits better, and every placement that is called a fit.
///
/// Exit status: 0 when every claim holds, 1 when one is refused, 2 when the input is at fault.
#[derive(Debug, clap::Args)]
pub(crate) struct Verify {
    /// The record, as `overcup check --json` prints it
    pub(crate) record: PathBuf,
    /// The case that the record is about [default: where the record says that it was read]
    #[arg(long, value_name = "CASE")]
    pub(crate) case: Option<PathBuf>,
    /// The kit, likewise
    #[arg(long, value_name = "KIT")]
    pub(crate) kit: Option<PathBuf>,
}

impl Verify {
    pub(crate) fn settings(self) -> crate::verify::Settings {
        crate::verify::Settings {
            record: self.record,
            case: self.case.map(|case| document(case, "case.toml")),
            kit: self.kit.map(|kit| document(kit, "kit.toml")),
        }
    }
}

/// Draft a case from mesh files alone: find plate, housing, ports, lid, hinge, studs and
/// fittings, each with its reason, and leave what is uncertain as questions in the document.
///
/// Exit status: 0 when nothing is asked, 1 when the document holds questions to be answered, 2 when the
/// files are at fault or no plate or housing is found.
#[derive(Debug, clap::Args)]
pub(crate) struct Intake {
    /// The mesh files, or one scan.toml that names scans
    #[arg(required = true, value_name = "FILES")]
    files: Vec<PathBuf>,
    /// The document to write, which must not exist yet
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Draw a plan of what was found into this SVG file, which must not exist yet
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Unit of files that have none, as STL: mm, in, cm, m or ft
    #[arg(long, value_name = "UNIT", value_parser = ["mm", "in", "cm", "m", "ft"])]
    unit: Option<String>,
    /// How far the meshes may be from the true surface, with its unit; NAME=LENGTH for one body; may be
    /// given several times
    #[arg(long = "deviation", value_name = "LENGTH")]
    deviations: Vec<String>,
    /// What that rests on, as in "CAD export, chord error"
    #[arg(long, value_name = "TEXT")]
    basis: Option<String>,
    /// A table of words by which bodies' names are understood, beside those of the trade
    #[arg(long, value_name = "FILE")]
    words: Option<PathBuf>,
    /// Where no hinge is found, or the wrong one: its bearing in the plan drawn without this, as in
    /// "90 deg"
    #[arg(long, value_name = "ANGLE")]
    hinge_at: Option<String>,
    /// Unit in which the document speaks
    #[arg(long, value_enum, value_name = "UNIT", default_value = "in")]
    units: Unit,
    /// The document's title
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
}

impl Intake {
    pub(crate) fn settings(self) -> Result<crate::intake::Settings, Stopped> {
        let mut faults = Vec::new();
        let mut deviations = Vec::new();
        for text in &self.deviations {
            let (name, length) = match text.rsplit_once('=') {
                Some((name, length)) => (Some(name.trim().to_owned()), length),
                None => (None, text.as_str()),
            };
            match length.parse::<Length>() {
                Ok(length) if length.mm() >= 0.0 => deviations.push((name, length)),
                Ok(_) => faults.push(Plain::new(
                    format!("--deviation \"{text}\" is negative"),
                    "give a length of zero or more",
                )),
                Err(error) => faults.push(Plain::new(
                    format!("--deviation \"{text}\" is not a length: {}", error.message),
                    error.remedy,
                )),
            }
        }
        let hinge_at = self.hinge_at.and_then(|text| {
            text.parse::<Angle>()
                .map_err(|error| {
                    faults.push(Plain::new(
                        format!("--hinge-at \"{text}\" is not an angle: {}", error.message),
                        error.remedy,
                    ));
                })
                .ok()
        });
        if !faults.is_empty() {
            return Err(Stopped::Asked(faults));
        }
        let is_document = |file: &PathBuf| file.extension().is_some_and(|e| e == "toml");
        if self.files.iter().any(is_document) {
            let told = [
                ("--unit", self.unit.is_some()),
                ("--deviation", !self.deviations.is_empty()),
                ("--basis", self.basis.is_some()),
                ("--words", self.words.is_some()),
            ];
            let faults: Vec<Plain> = told
                .into_iter()
                .filter(|(_, given)| *given)
                .map(|(name, _)| {
                    let remedy = "units stand in the scan document; how far the bodies may be off is \
                                  measured";
                    Plain::new(format!("{name} says nothing about scans"), remedy)
                })
                .chain((self.files.len() > 1).then(|| {
                    let remedy = "name every scan in one document, and give that alone";
                    Plain::new("a scan document stands among other files", remedy)
                }))
                .collect();
            let Some(document) = self.files.into_iter().next().filter(|_| faults.is_empty()) else {
                return Err(Stopped::Asked(faults));
            };
            return Ok(crate::intake::Settings {
                from: From::Scans(document),
                hinge_at,
                title: self.title,
                out: self.out,
                picture: self.picture,
            });
        }
        let folder = self.out.parent().map(PathBuf::from).unwrap_or_default();
        let title = self.title.clone();
        Ok(crate::intake::Settings {
            hinge_at,
            title,
            from: From::Meshes(DraftRequest {
                files: self.files,
                folder,
                unit: self
                    .unit
                    .and_then(|word| MeshUnit::STATED.into_iter().find(|u| u.word() == word)),
                deviations,
                basis: self.basis,
                words: self.words,
                hinge_at,
                units: self.units.length(),
                title: self.title,
            }),
            out: self.out,
            picture: self.picture,
        })
    }
}

/// Tell for each fitting whether it can be covered, with which cup, after removing what, and with
/// how much to spare.
///
/// Exit status: 0 when every fitting asked for can be covered, 1 when one cannot or cannot be told,
/// 2 when the input is at fault.
#[derive(Debug, clap::Args)]
#[expect(clippy::struct_excessive_bools, reason = "each stands for a word on the command line")]
pub(crate) struct Check {
    #[command(flatten)]
    documents: Documents,
    /// Only this fitting, with all details; may be given several times
    #[arg(long = "fitting", value_name = "NAME")]
    fittings: Vec<String>,
    /// Only this cup; may be given several times
    #[arg(long = "cup", value_name = "NAME")]
    cups: Vec<String>,
    /// Print the record as JSON
    #[arg(long, conflicts_with = "details")]
    json: bool,
    /// Print all details of every fitting
    #[arg(long)]
    details: bool,
    /// Look for the smallest single changes of the car top after which a fitting that does not fit
    /// would; takes longer
    #[arg(long)]
    advise: bool,
    /// Tell too where the outlet of each fitting that can be covered may point when everything else is
    /// placed as suits it best; takes longer
    #[arg(long)]
    bearings: bool,
    /// Look at N pieces of the placement space, at most, for each cup, pair of ports and set of pieces
    /// off; N from 1 to 1000000 [default: 3000]
    #[arg(long, value_name = "N")]
    effort: Option<usize>,
    /// Unit of the lengths printed [default: the case's]
    #[arg(long, value_enum, value_name = "UNIT")]
    units: Option<Unit>,
    /// Write the placed rigs and the car top as OBJ files into this folder, which must be new or
    /// empty
    #[arg(long, value_name = "DIR")]
    meshes: Option<PathBuf>,
    /// Draw N car tops and kits as they may have been built, within what the documents state, and tell
    /// for each fitting how many can be capped with the same cup; N from 1 to 100000
    #[arg(long, value_name = "N")]
    vary: Option<usize>,
    /// Where the drawn numbers begin: the same seed draws the same
    #[arg(long, value_name = "S", default_value_t = 1, requires = "vary")]
    seed: u64,
}

/// Tell for each fitting that can be covered whether the clamp holds the lading's pressure, with what
/// torque, what governs, and up to what pressure it would hold. Figures are estimates that a licensed
/// engineer must confirm.
///
/// Exit status: 0 when every fitting asked for can be covered and its sealing holds, 1 when one
/// cannot, does not or cannot be told, 2 when the input is at fault.
#[derive(Debug, clap::Args)]
pub(crate) struct Hold {
    #[command(flatten)]
    documents: Documents,
    /// Only this fitting, with every way in which the clamp may fail; may be given several times
    #[arg(long = "fitting", value_name = "NAME")]
    fittings: Vec<String>,
    /// Only this cup; may be given several times
    #[arg(long = "cup", value_name = "NAME")]
    cups: Vec<String>,
    /// Print the record as JSON
    #[arg(long)]
    json: bool,
    /// Look at N pieces of the placement space, at most, for each cup, pair of ports and set of pieces
    /// off; N from 1 to 1000000 [default: 3000]
    #[arg(long, value_name = "N")]
    effort: Option<usize>,
    /// Unit of the lengths printed; forces and pressures follow it [default: the case's]
    #[arg(long, value_enum, value_name = "UNIT")]
    units: Option<Unit>,
}

impl Hold {
    pub(crate) fn settings(self) -> crate::hold::Settings {
        let form = if self.json {
            Form::Json
        } else if self.fittings.is_empty() {
            Form::Table
        } else {
            Form::Details
        };
        crate::hold::Settings {
            case: self.documents.case(),
            kit: self.documents.kit(),
            fittings: self.fittings,
            cups: self.cups,
            effort: self.effort,
            form,
            unit: self.units.map(Unit::length),
        }
    }
}

/// Write a fitting with the rig on it, its parts by their names, and the installation as an animation,
/// as a glTF scene (.glb) that other programs show.
///
/// Exit status: 0 when the fitting can be covered, 1 when it cannot or it cannot be told (the scene shows
/// the best placement found), 2 when the input is at fault or the file could not be written.
#[derive(Debug, clap::Args)]
pub(crate) struct Export {
    #[command(flatten)]
    documents: Documents,
    /// The fitting; may be left out where the case has only one
    #[arg(long, value_name = "NAME")]
    fitting: Option<String>,
    /// Only this cup; may be given several times
    #[arg(long = "cup", value_name = "NAME")]
    cups: Vec<String>,
    /// The file to write, which must not exist yet
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

impl Export {
    pub(crate) fn settings(self) -> crate::export::Settings {
        crate::export::Settings {
            case: self.documents.case(),
            kit: self.documents.kit(),
            fitting: self.fitting,
            cups: self.cups,
            out: self.out,
        }
    }
}

/// Tell what a mesh or CAD file (STL, OBJ, PLY, glTF, GLB, 3MF, STEP) holds: its unit, its bodies with names and sizes,
/// whether their surfaces are closed and face outward, and where they do not.
///
/// Exit status: 0 when the unit is known and every body is closed and faces outward, 1 when not, 2 when the
/// file cannot be used.
#[derive(Debug, clap::Args)]
pub(crate) struct Inspect {
    /// The file
    file: PathBuf,
    /// The unit of its coordinates, where the file does not say it: STL, OBJ and PLY never do
    #[arg(long, value_enum, value_name = "UNIT")]
    unit: Option<FileUnit>,
    /// Print JSON, lengths in millimetres
    #[arg(long)]
    json: bool,
    /// Unit of the lengths printed
    #[arg(long, value_enum, value_name = "UNIT", default_value = "mm", conflicts_with = "json")]
    units: Unit,
}

impl Inspect {
    pub(crate) fn settings(self) -> crate::inspect::Settings {
        crate::inspect::Settings {
            file: self.file,
            unit: self.unit.map(FileUnit::mesh),
            json: self.json,
            units: self.units.length(),
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum FileUnit {
    /// Millimetres
    Mm,
    /// Inches
    In,
    /// Centimetres
    Cm,
    /// Metres
    M,
    /// Feet
    Ft,
}

impl FileUnit {
    const fn mesh(self) -> MeshUnit {
        match self {
            Self::Mm => MeshUnit::Millimetre,
            Self::In => MeshUnit::Inch,
            Self::Cm => MeshUnit::Centimetre,
            Self::M => MeshUnit::Metre,
            Self::Ft => MeshUnit::Foot,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Unit {
    /// Inches
    In,
    /// Millimetres
    Mm,
}

impl Unit {
    const fn length(self) -> LengthUnit {
        match self {
            Self::In => LengthUnit::Inch,
            Self::Mm => LengthUnit::Millimetre,
        }
    }
}

impl Check {
    pub(crate) fn settings(self) -> Settings {
        let form = if self.json {
            Form::Json
        } else if self.details || !self.fittings.is_empty() {
            Form::Details
        } else {
            Form::Table
        };
        let unit = self.units.map(Unit::length);
        Settings {
            case: self.documents.case(),
            kit: self.documents.kit(),
            fittings: self.fittings,
            cups: self.cups,
            advise: self.advise,
            bearings: self.bearings,
            effort: self.effort,
            form,
            unit,
            meshes: self.meshes,
            vary: self.vary.map(|draws| Vary { draws, seed: self.seed }),
        }
    }
}
