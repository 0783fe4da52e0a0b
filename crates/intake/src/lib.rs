//! The only reader: case documents, kit documents, lessons, scans, meshes.
//!
//! [`read_case`], [`read_kit`] and [`read_lesson`] read a document with all that it names. What makes a document
//! unusable is a [`Fault`]; faults are collected and told all at once, each with its place and its
//! remedy. What is merely notable is a [`Finding`] beside the result. Reading repairs nothing,
//! writes nothing and never panics, whatever the bytes.
//!
//! [`draft_case`] reads mesh files alone and gives the text of a case document that says of them what
//! `survey` finds, with a `[[question]]` wherever that is in doubt; [`read_case`] refuses a document as
//! long as one is unanswered.

mod case;
mod document;
mod draft;
mod fault;
mod finding;
mod frame;
mod kit;
mod lesson;
pub mod meshes;
mod near;
mod range;
mod scans;
mod soundness;
pub mod stl;
mod table;

pub use case::{CaseFile, read_case};
pub use document::SourceFile;
pub use draft::{
    DraftFile, DraftRequest, ScanDraft, ScanRequest, draft_case, draft_scans, read_words,
};
pub use fault::{Fault, Faults, Place};
pub use finding::Finding;
pub use kit::{KitFile, read_kit};
pub use lesson::{LessonFile, read_lesson};
pub use scans::{ScanFile, ScanRead, read_scans};
