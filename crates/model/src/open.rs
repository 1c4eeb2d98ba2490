//! Rows whose fields come with later capabilities; their identity is fixed now.

use crate::*;

/// A half of the vehicle that can part from the rest.
#[derive(Clone, Debug)]
pub struct Section {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// Where the row stands.
    pub at: Span,
}

/// A box.
#[derive(Clone, Debug)]
pub struct Unit {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// The section it stays with.
    pub section: Option<Id<Section>>,
    /// Temperature of its connectors.
    pub temperature: Option<Given<physics::Kelvin>>,
    /// The breakout at which the wires of its connectors leave the harness.
    pub breakout: Option<Given<Id<BranchPoint>>>,
    /// Named only by the wire list, not declared.
    pub implied: bool,
    /// Where the row stands.
    pub at: Span,
}

/// An id of the vehicle: 1 to 64 characters, no white space or control character, none of `, ; : @ = . * ? " ' \` `.
pub type Name = std::sync::Arc<str>;

/// Why a text is not an id, or `None` if it is one.
pub fn name_fault(text: &str) -> Option<String> {
    const FORBIDDEN: &str = ",;:@=.*?\"'\\`";
    if text.is_empty() {
        return Some("an id cannot be empty".to_owned());
    }
    if text.chars().count() > 64 {
        return Some("an id has at most 64 characters".to_owned());
    }
    // Characters that cannot be seen would make two ids of one.
    let is_unseen =
        |c: char| matches!(c, '\u{AD}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{FEFF}');
    let bad = text.chars().find(|c| c.is_whitespace() || c.is_control() || is_unseen(*c) || FORBIDDEN.contains(*c))?;
    Some(format!("an id cannot hold {bad:?}"))
}
