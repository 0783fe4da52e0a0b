//! `overcup inspect`.

use crate::check::{Answer, print};
use crate::printer;
use front::{Plain, Stopped};
use intake::meshes::{self, Judged, MeshUnit, Model};
use measure::LengthUnit;
use serde::Serialize;
use std::path::PathBuf;

/// What to look at and how to show it.
pub(crate) struct Settings {
    /// The mesh file.
    pub(crate) file: PathBuf,
    /// The unit that its coordinates are in, where it does not say so itself.
    pub(crate) unit: Option<MeshUnit>,
    /// Whether to print JSON.
    pub(crate) json: bool,
    /// Unit of the lengths printed.
    pub(crate) units: LengthUnit,
}

/// Reads the file, looks at each body, prints.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    let file = settings.file.display();
    let (model, source) = meshes::read_hashed(&settings.file, settings.unit)
        .map_err(|fault| Plain::new(format!("{file}: {fault}"), fault.remedy))?;
    let judged: Vec<Judged> = model.bodies.iter().map(Judged::of).collect();
    let text = if settings.json {
        let told = Told::of(&model, &judged, &source.path, &source.sha256);
        serde_json::to_string_pretty(&told)
            .map(|json| json + "\n")
            .map_err(|error| Plain::unwritten("the answer", &error.into()))?
    } else {
        printer::inspected::table(&source.path, &model, &judged, settings.units)
    };
    print(&text)?;
    let sound = !judged.is_empty() && judged.iter().all(Judged::is_sound);
    let all = sound && model.missing.is_empty() && model.unit.unit().is_some();
    Ok(if all { Answer::Yes } else { Answer::No })
}

/// What is told of a file, as it is written.
#[derive(Serialize)]
struct Told<'a> {
    /// Grows by one whenever a field changes its meaning or goes away.
    format: u32,
    program: &'static str,
    file: &'a str,
    sha256: &'a str,
    kind: &'static str,
    /// The unit that the file was written in; none where nobody says so.
    unit: Option<&'static str>,
    /// Whether the file or its format says so, not the command line.
    unit_by_file: bool,
    /// The unit of every length here; none where they are the file's own numbers.
    lengths_in: Option<&'static str>,
    bodies: Vec<Body<'a>>,
    points: Option<Points>,
    notes: &'a [String],
    /// What the file holds and could not be read.
    missing: &'a [String],
    beside: Vec<File<'a>>,
    cautions: [&'static str; 1],
}

#[derive(Serialize)]
struct Body<'a> {
    name: &'a str,
    /// The name of this use of it, where that is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    called: Option<&'a str>,
    within: &'a [String],
    triangles: usize,
    vertices: usize,
    shells: usize,
    low: Option<[f64; 3]>,
    high: Option<[f64; 3]>,
    area: f64,
    volume: Option<f64>,
    colour: Option<[u8; 4]>,
    /// How far its triangles may be from the surface in the file; none for meshes, whose files say nothing
    /// of it.
    deviation: Option<f64>,
    sound: bool,
    wrong: Vec<Wrong>,
    missing: &'a [String],
}

#[derive(Serialize)]
struct Wrong {
    count: usize,
    what: &'static str,
    at: Option<[f64; 3]>,
    remedy: &'static str,
}

#[derive(Serialize)]
struct Points {
    count: usize,
    low: Option<[f64; 3]>,
    high: Option<[f64; 3]>,
    coloured: bool,
}

#[derive(Serialize)]
struct File<'a> {
    path: &'a str,
    sha256: &'a str,
}

impl<'a> Told<'a> {
    fn of(model: &'a Model, judged: &'a [Judged], file: &'a str, sha256: &'a str) -> Self {
        let body = |(body, judged): (&'a meshes::ModelBody, &'a Judged)| Body {
            name: &body.name,
            called: body.called.as_deref(),
            within: &body.within,
            triangles: judged.triangles,
            vertices: judged.vertices,
            shells: judged.shells,
            low: judged.bounds.map(|[low, _]| low),
            high: judged.bounds.map(|[_, high]| high),
            area: judged.area,
            volume: judged.volume,
            colour: body.colour,
            deviation: body.deviation.as_ref().map(|d| d.bound),
            sound: judged.is_sound(),
            wrong: judged.wrong.iter().map(Wrong::of).collect(),
            missing: &judged.missing,
        };
        let points = model.points.as_ref().map(|points| Points {
            count: points.places.len(),
            low: points.bounds().map(|[low, _]| low),
            high: points.bounds().map(|[_, high]| high),
            coloured: !points.colours.is_empty(),
        });
        let unit = model.unit.unit().map(MeshUnit::word);
        Self {
            format: 1,
            program: env!("CARGO_PKG_VERSION"),
            file,
            sha256,
            kind: model.format.word(),
            unit,
            unit_by_file: matches!(model.unit, meshes::UnitBy::File(_)),
            lengths_in: unit.map(|_| "mm"),
            bodies: model.bodies.iter().zip(judged).map(body).collect(),
            points,
            notes: &model.notes,
            missing: &model.missing,
            beside: model
                .beside
                .iter()
                .map(|f| File { path: &f.path, sha256: &f.sha256 })
                .collect(),
            cautions: [review::CAUTION],
        }
    }
}

impl Wrong {
    fn of(wrong: &meshes::Wrong) -> Self {
        Self {
            count: wrong.count,
            what: wrong.what,
            at: wrong.at.map(|p| [p.x, p.y, p.z]),
            remedy: wrong.remedy,
        }
    }
}
