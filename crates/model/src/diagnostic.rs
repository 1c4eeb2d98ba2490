//! Diagnostics: text without meaning. What could be soldered together is a finding instead.

use crate::*;

/// Stable code of a diagnostic, `IN-12`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Code(pub &'static str);

/// How bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The input cannot be used: exit 2.
    Error,
    /// It can, but the user should look.
    Warning,
}

/// A place with a word about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabelledSpan {
    /// Where.
    pub at: Span,
    /// What is there; may be empty.
    pub label: String,
}

/// One problem of the input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable code.
    pub code: Code,
    /// How bad.
    pub severity: Severity,
    /// What is wrong, in the user's words: lower case start, no full stop.
    pub message: String,
    /// The place itself first, then those it conflicts with; empty only where no file is concerned.
    pub places: Vec<LabelledSpan>,
    /// The way out.
    pub help: Option<String>,
    /// A text that, put in place of the span, mends it.
    pub replacement: Option<(Span, String)>,
}

impl Diagnostic {
    /// An error at a place.
    pub fn error(code: Code, at: Span, label: impl Into<String>, message: impl Into<String>) -> Diagnostic {
        Diagnostic {
            code,
            severity: Severity::Error,
            message: message.into(),
            places: vec![LabelledSpan { at, label: label.into() }],
            help: None,
            replacement: None,
        }
    }
    /// Adds a second place.
    pub fn note(mut self, at: Span, label: impl Into<String>) -> Diagnostic {
        self.places.push(LabelledSpan { at, label: label.into() });
        self
    }
    /// Adds the way out.
    pub fn help(mut self, help: impl Into<String>) -> Diagnostic {
        self.help = Some(help.into());
        self
    }
    /// Adds a literal replacement of a span.
    pub fn replace(mut self, at: Span, with: impl Into<String>) -> Diagnostic {
        self.replacement = Some((at, with.into()));
        self
    }
    /// Makes it a warning.
    pub fn warning(mut self) -> Diagnostic {
        self.severity = Severity::Warning;
        self
    }
}
