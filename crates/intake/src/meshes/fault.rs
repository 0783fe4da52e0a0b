//! Why a mesh file cannot be used.

use std::fmt;

/// Why a mesh file cannot be used: where in it, what is wrong, how to put it right. The file is named by
/// whoever asked for it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{what}", at(place.as_deref()))]
pub struct MeshFault {
    /// Where, in the file's own terms: `line 12`, `object 3, triangle 7`; `None` for the file as a whole.
    pub place: Option<String>,
    /// What is wrong, in a short phrase.
    pub what: String,
    /// How to put it right.
    pub remedy: String,
    /// Whether the file could be opened at all.
    pub opened: bool,
}

fn at(place: Option<&str>) -> String {
    place.map_or_else(String::new, |place| format!("{place}: "))
}

impl MeshFault {
    /// A fault of the file as a whole.
    pub(crate) fn whole(what: impl fmt::Display, remedy: &str) -> Self {
        Self { place: None, what: what.to_string(), remedy: remedy.to_owned(), opened: true }
    }

    /// A fault at a place.
    pub(crate) fn at(place: impl fmt::Display, what: impl fmt::Display, remedy: &str) -> Self {
        Self { place: Some(place.to_string()), ..Self::whole(what, remedy) }
    }
}

/// The usual remedies.
pub(crate) const AGAIN: &str = "export the body again where it was made";
pub(crate) const DAMAGED: &str =
    "the file is cut short, padded or damaged: copy or export it again";
pub(crate) const COARSER: &str = "export the body more coarsely and state its deviation";

/// A piece of a file as it may be shown: no control characters, forty characters at most.
pub(crate) fn shown(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

/// A name as a file gives it: no control characters, two hundred characters at most, no space around it.
pub(crate) fn name(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let name: String = text.trim().chars().filter(|c| !c.is_control()).take(200).collect();
    name.trim().to_owned()
}
