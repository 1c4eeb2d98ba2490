//! `explain`: what a rule is about.

use crate::Style;
use rules::{RULES, Rule, Unit};

/// One rule in full.
pub fn explain(rule: &Rule, style: Style) -> String {
    let mut text = format!("{}  {}\n\n", style.strong(rule.code.0), rule.title);
    let unit = match rule.unit {
        Unit::Nothing => "none: the rule holds or does not",
        unit => unit.symbol(),
    };
    for (head, body) in [("what", rule.what), ("why", rule.why), ("limit", rule.source), ("remedy", rule.remedy), ("unit", unit)] {
        text.push_str(&wrap(head, body, style));
    }
    text
}

/// All rules, a line each.
pub fn rule_list(style: Style) -> String {
    RULES.iter().map(|rule| format!("{}  {}\n", style.strong(rule.code.0), rule.title)).collect()
}

/// A head in a column of its own, a body wrapped beside it.
pub(crate) fn wrap(head: &str, body: &str, style: Style) -> String {
    let head = format!("{head:<9}");
    let lines = wrap_under(&head, body);
    match lines.strip_prefix(&head) {
        Some(rest) => style.faint(&head) + rest,
        None => lines,
    }
}

/// A body after a head, its further lines set in under it.
pub(crate) fn wrap_under(head: &str, body: &str) -> String {
    const WIDTH: usize = 119;
    let indent = head.chars().count();
    let mut lines = vec![head.to_owned()];
    for word in body.split_whitespace() {
        let last = lines.last_mut().expect("a list that begins with one line");
        let length = last.chars().count();
        if length > indent && length + 1 + word.chars().count() > WIDTH {
            lines.push(" ".repeat(indent) + word);
        } else {
            if length > indent {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines.iter().map(|line| format!("{line}\n")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_prints_all_its_texts() {
        for rule in RULES {
            let text = explain(rule, Style::PLAIN);
            let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
            for part in [rule.what, rule.why, rule.source, rule.remedy] {
                assert!(flat.contains(&part.split_whitespace().collect::<Vec<_>>().join(" ")), "{}: {part}", rule.code.0);
            }
        }
    }
}
