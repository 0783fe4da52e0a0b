//! Why a program stopped.

use intake::Faults;
use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme};
use review::UnknownName;
use std::fmt::{self, Write as _};
use std::io;
use std::path::PathBuf;

/// Why a program stopped.
pub enum Stopped {
    /// Documents or what they name are at fault.
    Documents(Vec<Faults>),
    /// The command line asks for what there is not.
    Asked(Vec<Plain>),
}

/// A fault without a place in a document.
#[derive(Debug, Clone)]
pub struct Plain {
    message: String,
    remedy: String,
}

impl Plain {
    /// What is wrong and what to do about it.
    pub fn new(message: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { message: message.into(), remedy: remedy.into() }
    }

    /// A name that the documents do not know.
    pub fn unknown(name: &UnknownName) -> Self {
        Self::new(name.to_string(), format!("known are: {}", name.known.join(", ")))
    }

    /// A result that could not be written.
    pub fn unwritten(what: &str, error: &io::Error) -> Self {
        Self::new(format!("{what} cannot be written: {error}"), "nothing was left half-written")
    }

    /// No kit was given and none was found.
    pub fn no_kit(looked: &[PathBuf]) -> Self {
        let places: Vec<String> = looked.iter().map(|p| p.display().to_string()).collect();
        Self::new(
            "no kit is given, and none lies beside the case or one folder up",
            format!("give one with --kit; looked for {}", places.join(" and ")),
        )
    }
}

impl fmt::Display for Plain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Plain {}

impl Diagnostic for Plain {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.remedy))
    }
}

impl From<Plain> for Stopped {
    fn from(fault: Plain) -> Self {
        Self::Asked(vec![fault])
    }
}

impl Stopped {
    /// Every fault with its place and its remedy, in colours or plain.
    pub fn text(&self, in_colours: bool) -> String {
        let theme =
            if in_colours { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
        let handler =
            GraphicalReportHandler::new_themed(theme).with_width(100).without_cause_chain();
        // A fault without a place shows no document of its own accord.
        let placeless = |f: &intake::Fault| Plain::new(format!("{}: {f}", f.file), &f.remedy);
        let faults: Vec<Box<dyn Diagnostic>> = match self {
            Self::Documents(documents) => documents
                .iter()
                .flatten()
                .map(|f| -> Box<dyn Diagnostic> {
                    if f.place.is_some() { Box::new(f.clone()) } else { Box::new(placeless(f)) }
                })
                .collect(),
            Self::Asked(faults) => {
                faults.iter().map(|f| -> Box<dyn Diagnostic> { Box::new(f.clone()) }).collect()
            }
        };
        let mut text = String::new();
        for fault in &faults {
            // Writing into a string does not fail.
            let _ = handler.render_report(&mut text, fault.as_ref());
        }
        if faults.len() > 1 {
            // Writing into a string does not fail.
            let _ = writeln!(text, "{} faults", faults.len());
        }
        text
    }
}
