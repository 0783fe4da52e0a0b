//! Why a written quantity could not be read.

use std::ops::Range;

/// A written quantity that could not be read, with the place in the text and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}: {remedy}")]
pub struct ParseError {
    /// Byte range in the text that was parsed; within it and on character boundaries.
    pub span: Range<usize>,
    /// What is wrong, in a few words.
    pub message: String,
    /// What to write instead.
    pub remedy: String,
}

impl ParseError {
    pub(crate) fn new(
        span: Range<usize>,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self { span, message: message.into(), remedy: remedy.into() }
    }
}
