//! One value of one field: from text to a number, word, list … or to a diagnostic.

use crate::codes;
use crate::fields::{FieldKind, FieldSpec, TableSpec};
use crate::limits::TEXT_CHARACTERS;
use crate::problems::Problems;
use crate::quantity::{self, Fault, Quantity, Unit};
use model::{Diagnostic, FileId, Name, Span, name_fault};
use std::collections::HashMap;
use toml::Spanned;
use toml::de::DeValue;

/// One row as read: its fields by position in its table.
pub(crate) struct Row {
    pub(crate) table: &'static TableSpec,
    pub(crate) name: Name,
    pub(crate) at: Span,
    pub(crate) slots: Vec<Slot>,
    /// Not understood as a whole: its name is known, nothing else is said about it.
    pub(crate) broken: bool,
}

/// What stands in a field.
#[derive(Clone, Default)]
pub(crate) enum Slot {
    #[default]
    Absent,
    /// Something that was not understood and has been reported.
    Bad,
    Good(Cell),
}

/// A value that was understood.
#[derive(Clone)]
pub(crate) struct Cell {
    pub(crate) at: Span,
    pub(crate) value: Value,
    pub(crate) mark: Mark,
}

#[derive(Clone)]
pub(crate) enum Value {
    /// `TBD`.
    Open,
    Text(Name),
    Flag(bool),
    Count(u32),
    Number(Quantity, f64),
    Plain(f64),
    Spread(Box<[Part; 3]>),
    List(Vec<(Span, Name)>),
    Groups(Vec<Vec<(Span, Name)>>),
    Limit {
        value: f64,
        source: String,
        how: Name,
    },
    LeftOut(Vec<(Name, Span, String)>),
    Pairs(Vec<[(Span, Name); 2]>),
    Position([f64; 3]),
    Apart(Vec<ApartRow>),
    Needs(Vec<NeedRow>),
}

/// What has to work, as written.
#[derive(Clone)]
pub(crate) enum NeedRow {
    /// `"load:F1"`.
    One(Span, Name),
    /// `{ path = ["J1.3", "J7.5"] }`.
    Path(Span, [(Span, Name); 2]),
    /// `[…]`: all of them.
    All(Vec<NeedRow>),
    /// `{ any = […] }`, `{ at_least = 2, of = […] }`.
    AtLeast(u32, Vec<NeedRow>),
}

/// Two classes to be kept apart, as written.
#[derive(Clone)]
pub(crate) struct ApartRow {
    pub(crate) classes: [(Span, Name); 2],
    pub(crate) source: String,
    pub(crate) how: Name,
    pub(crate) at: Span,
}

/// One of least, typical, greatest.
#[derive(Clone)]
pub(crate) struct Part {
    pub(crate) si: f64,
    pub(crate) at: Span,
    pub(crate) mark: Mark,
}

/// How firm a value is.
#[derive(Clone, Default)]
pub(crate) enum Mark {
    #[default]
    Firm,
    /// `TBC` or `TBD`, with the value as written and who answers by when.
    Loose(Box<Loose>),
}

#[derive(Clone, Default)]
pub(crate) struct Loose {
    pub(crate) text: String,
    pub(crate) owner: Option<String>,
    pub(crate) need: Option<String>,
}

impl Row {
    pub(crate) fn slot(&self, key: &str) -> &Slot {
        match self.table.position(key) {
            Some(at) => self.slots.get(at).unwrap_or(&Slot::Absent),
            None => &Slot::Absent,
        }
    }
    pub(crate) fn cell(&self, key: &str) -> Option<&Cell> {
        match self.slot(key) {
            Slot::Good(cell) => Some(cell),
            _ => None,
        }
    }
    pub(crate) fn is_absent(&self, key: &str) -> bool {
        matches!(self.slot(key), Slot::Absent)
    }
    /// A word, id, end or free text with its place.
    pub(crate) fn text(&self, key: &str) -> Option<(&Name, Span)> {
        match self.cell(key) {
            Some(Cell { at, value: Value::Text(text), .. }) => Some((text, *at)),
            _ => None,
        }
    }
    pub(crate) fn word(&self, key: &str) -> Option<&str> {
        self.text(key).map(|(text, _)| &**text)
    }
    pub(crate) fn list(&self, key: &str) -> &[(Span, Name)] {
        match self.cell(key) {
            Some(Cell { value: Value::List(list), .. }) => list,
            _ => &[],
        }
    }
    /// Groups of ids.
    pub(crate) fn groups(&self, key: &str) -> &[Vec<(Span, Name)>] {
        match self.cell(key) {
            Some(Cell { value: Value::Groups(groups), .. }) => groups,
            _ => &[],
        }
    }
    /// `load radio`, for messages.
    pub(crate) fn words(&self) -> String {
        format!("{} {}", self.table.key, self.name)
    }
}

/// A value written as text: a TOML string or a CSV cell. `plain` is the unit that a column head states.
pub(crate) fn from_text(field: &FieldSpec, text: &str, at: Span, plain: Option<&Unit>, out: &mut Problems) -> Slot {
    let good = |value, mark| Slot::Good(Cell { at, value, mark });
    if field.kind == FieldKind::Text {
        if field.required && text.trim().is_empty() {
            out.push(empty(field, at));
            return Slot::Bad;
        }
        return match free_text(text, at, out) {
            Some(text) => good(Value::Text(text), Mark::Firm),
            None => Slot::Bad,
        };
    }
    let (standing, rest, loose) = split_mark(text);
    if let Some(diagnostic) = mark_fault(standing.is_some(), text, at) {
        out.push(diagnostic);
        return Slot::Bad;
    }
    // What is to be put in place of the value alone leaves its mark standing.
    let mark_ends = standing.map_or(0, str::len);
    let (before_rest, after_rest) = match text.trim_start().get(mark_ends..).and_then(|behind| behind.find(rest)) {
        Some(from) => text.trim_start().split_at(mark_ends + from),
        None => ("", rest),
    };
    let after_rest = &after_rest[rest.len()..];
    let whole = |value: String| format!("{before_rest}{value}{after_rest}");
    match standing {
        Some("TBD") if field.open => {
            return good(Value::Open, Mark::Loose(Box::new(loose)));
        }
        Some("TBD") => {
            out.push(
                Diagnostic::error(codes::CANNOT_BE_OPEN, at, "", format!("{} cannot be TBD", field.key))
                    .help("everything else rests on it; give a value, marked \"TBC …\" if it may change"),
            );
            return Slot::Bad;
        }
        Some(_) if rest.is_empty() => {
            out.push(
                Diagnostic::error(codes::CANNOT_BE_OPEN, at, "", "TBC has no value behind it")
                    .help("write the value to be confirmed behind TBC, or TBD if there is none"),
            );
            return Slot::Bad;
        }
        Some(_) if !can_be_confirmed(field.kind) => {
            out.push(
                Diagnostic::error(codes::CANNOT_BE_OPEN, at, "", format!("{} cannot be TBC", field.key))
                    .help("only numbers, ends, wire types and contact sizes can be marked"),
            );
            return Slot::Bad;
        }
        _ => {}
    }
    let mark = if standing.is_some() { Mark::Loose(Box::new(Loose { text: rest.to_owned(), ..loose })) } else { Mark::Firm };
    let value = match field.kind {
        FieldKind::Text => return Slot::Bad,
        FieldKind::Name => match name_fault(rest) {
            None => Some(Value::Text(rest.into())),
            Some(fault) => {
                out.push(Diagnostic::error(codes::BAD_ID, at, "", format!("{rest:?} is not an id: {fault}")));
                None
            }
        },
        FieldKind::End | FieldKind::Id(_) | FieldKind::Via | FieldKind::Watched => Some(Value::Text(rest.into())),
        FieldKind::Words(words) => one_of(words, rest, at, out).map(|w| Value::Text(w.into())),
        FieldKind::NumberOr(_, word) if rest == word => Some(Value::Text(word.into())),
        FieldKind::Number(q) | FieldKind::NumberOr(q, _) | FieldKind::Spread(q) => {
            number(field, q, rest, at, plain, &whole, out).map(|si| Value::Number(q, si))
        }
        FieldKind::Either(a, b) => {
            let q = if quantity::parse(rest, b).is_ok() { b } else { a };
            number(field, q, rest, at, plain, &whole, out).map(|si| Value::Number(q, si))
        }
        FieldKind::Count => match rest.parse::<u32>() {
            Ok(n) => in_range(field, f64::from(n), rest, at, out).then_some(Value::Count(n)),
            Err(_) => {
                out.push(Diagnostic::error(codes::NOT_A_NUMBER, at, "", format!("{rest:?} is not a whole number")).help(format!(
                    "{} takes {}",
                    field.key,
                    field.range_words()
                )));
                None
            }
        },
        FieldKind::Date => date(rest, at, out),
        FieldKind::Flag => match rest.to_lowercase().as_str() {
            "true" | "yes" => Some(Value::Flag(true)),
            "false" | "no" => Some(Value::Flag(false)),
            _ => {
                out.push(
                    Diagnostic::error(codes::UNKNOWN_WORD, at, "", format!("{rest:?} is not true or false")).help("write true or false"),
                );
                None
            }
        },
        FieldKind::Plain => wrong_type(field, at, "a plain number in the rule's unit", None, out),
        FieldKind::Factor => wrong_type(field, at, "a plain number without quotes", None, out),
        FieldKind::Position | FieldKind::Apart => wrong_type(field, at, &expected(field), None, out),
        FieldKind::Ids(_) | FieldKind::Elements | FieldKind::Fitted | FieldKind::Needs => {
            let plain = !rest.contains(['"', '\\']) && !rest.contains(char::is_control);
            wrong_type(field, at, "a list", plain.then(|| format!("[\"{rest}\"]")), out)
        }
        FieldKind::Pairs | FieldKind::Groups(_) => wrong_type(field, at, &expected(field), None, out),
        FieldKind::Limit(_) => wrong_type(field, at, "{ value = \"…\", source = \"…\", how = \"read\" }", None, out),
        FieldKind::LeftOut => wrong_type(field, at, "a list of { rule = \"…\", reason = \"…\" }", None, out),
    };
    value.map_or(Slot::Bad, |value| good(value, mark))
}

/// A value written in TOML.
pub(crate) fn from_toml(field: &FieldSpec, value: &Spanned<DeValue<'_>>, file: FileId, out: &mut Problems) -> Slot {
    let at = span(file, value.span());
    let good = |value| Slot::Good(Cell { at, value, mark: Mark::Firm });
    let bad = |_: Option<Value>| Slot::Bad;
    match (field.kind, value.get_ref()) {
        (FieldKind::Flag, DeValue::String(text)) => {
            let mended = ["true", "false"].into_iter().find(|w| *w == text.trim()).map(str::to_owned);
            bad(wrong_type(field, at, "true or false, without quotes", mended, out))
        }
        (_, DeValue::String(text)) => {
            let before = out.len();
            let slot = from_text(field, text.trim(), at, None, out);
            out.quote_since(before, at);
            slot
        }
        (FieldKind::Flag, DeValue::Boolean(flag)) => good(Value::Flag(*flag)),
        (FieldKind::Count, DeValue::Integer(n)) => match u32::from_str_radix(n.as_str(), n.radix()) {
            Ok(n) if in_range(field, f64::from(n), &n.to_string(), at, out) => good(Value::Count(n)),
            Ok(_) => Slot::Bad,
            Err(_) => {
                out.push(Diagnostic::error(codes::OUT_OF_RANGE, at, "", format!("{} is out of its range", field.key)).help(format!(
                    "{} takes {}",
                    field.key,
                    field.range_words()
                )));
                Slot::Bad
            }
        },
        (FieldKind::Plain, DeValue::Integer(n)) => match n.as_str().parse::<f64>() {
            Ok(n) if n.is_finite() => good(Value::Plain(n)),
            _ => bad(wrong_type(field, at, "a plain number in the rule's unit", None, out)),
        },
        (FieldKind::Plain, DeValue::Float(n)) => match n.as_str().parse::<f64>() {
            Ok(n) if n.is_finite() => good(Value::Plain(n)),
            _ => bad(wrong_type(field, at, "a plain number in the rule's unit", None, out)),
        },
        (FieldKind::Factor, DeValue::Integer(_) | DeValue::Float(_)) => {
            let text = match value.get_ref() {
                DeValue::Integer(n) => n.as_str(),
                DeValue::Float(n) => n.as_str(),
                _ => "",
            };
            match text.parse::<f64>() {
                Ok(n) if n.is_finite() && in_range(field, n, text, at, out) => good(Value::Plain(n)),
                Ok(n) if n.is_finite() => Slot::Bad,
                _ => bad(wrong_type(field, at, "a plain number without quotes", None, out)),
            }
        }
        (FieldKind::Date, DeValue::Datetime(d)) => date(&d.to_string(), at, out).map_or(Slot::Bad, good),
        (FieldKind::Either(q, _), DeValue::Integer(_) | DeValue::Float(_)) => bare_number(field, q, value.get_ref(), at, out),
        (FieldKind::Number(q) | FieldKind::NumberOr(q, _) | FieldKind::Spread(q), DeValue::Integer(_) | DeValue::Float(_)) => {
            bare_number(field, q, value.get_ref(), at, out)
        }
        (FieldKind::Name | FieldKind::Id(_) | FieldKind::Text, DeValue::Integer(n)) => {
            bad(wrong_type(field, at, "a text in quotes", Some(format!("\"{}\"", n.as_str())), out))
        }
        (FieldKind::Words(words), _) => bad(wrong_type(field, at, &format!("one of {}", quoted(words)), None, out)),
        (FieldKind::Spread(q), DeValue::Table(table)) => {
            const PARTS: [&str; 3] = ["low", "typical", "high"];
            let mut found: [Slot; 3] = Default::default();
            let mut known = true;
            for (key, value) in table.iter() {
                match PARTS.iter().position(|p| *p == key.get_ref()) {
                    Some(part) => {
                        let one = FieldSpec { key: PARTS[part], kind: FieldKind::Number(q), open: false, ..*field };
                        found[part] = from_toml(&one, value, file, out);
                    }
                    None => {
                        // It is one of the three, misspelt; that one is then not missing.
                        unknown_key("a spread", key.get_ref(), span(file, key.span()), PARTS.into_iter(), out);
                        known = false;
                    }
                }
            }
            if known { spread(field, q, found, at, out) } else { Slot::Bad }
        }
        (FieldKind::Limit(q), DeValue::Table(table)) => {
            const KEYS: [&str; 3] = ["value", "source", "how"];
            const HOW: &[&str] = &["read", "memory", "practice"];
            let specs = [
                FieldSpec { key: "value", kind: FieldKind::Number(q), ..*field },
                FieldSpec { key: "source", kind: FieldKind::Text, required: true, help: "where the value comes from", ..*field },
                FieldSpec { key: "how", kind: FieldKind::Words(HOW), ..*field },
            ];
            let mut found: [Slot; 3] = Default::default();
            let mut known = true;
            for (key, value) in table.iter() {
                match KEYS.iter().position(|k| *k == key.get_ref()) {
                    Some(k) => found[k] = from_toml(&specs[k], value, file, out),
                    None => {
                        unknown_key("a limit", key.get_ref(), span(file, key.span()), KEYS.into_iter(), out);
                        known = false;
                    }
                }
            }
            if !known {
                return Slot::Bad;
            }
            for (key, slot) in KEYS.iter().zip(&found) {
                if matches!(slot, Slot::Absent) {
                    out.push(
                        Diagnostic::error(codes::MISSING_KEY, at, "", format!("{} has no {key}", field.key))
                            .help("write { value = \"1 V\", source = \"…\", how = \"read\" }; how is read, memory or practice"),
                    );
                }
            }
            match found {
                [Slot::Good(value), Slot::Good(source), Slot::Good(how)] => match (value.value, source.value, how.value) {
                    (Value::Number(_, si), Value::Text(source), Value::Text(how)) => {
                        good(Value::Limit { value: si, source: source.to_string(), how })
                    }
                    _ => Slot::Bad,
                },
                _ => Slot::Bad,
            }
        }
        (FieldKind::Position, DeValue::Array(items)) => {
            if items.len() != 3 {
                return bad(wrong_type(field, at, &expected(field), None, out));
            }
            let one = FieldSpec { kind: FieldKind::Number(Quantity::Length), open: false, ..*field };
            let slots: Vec<Slot> = items.iter().map(|item| from_toml(&one, item, file, out)).collect();
            let mut place = [0.0; 3];
            for (axis, slot) in place.iter_mut().zip(&slots) {
                let Slot::Good(Cell { value: Value::Number(_, si), .. }) = slot else { return Slot::Bad };
                *axis = *si;
            }
            good(Value::Position(place))
        }
        (FieldKind::Apart, DeValue::Array(items)) => apart(field, items.iter(), at, file, out),
        (FieldKind::Pairs, DeValue::Array(items)) => {
            let mut list = Vec::new();
            let mut whole = true;
            for item in items.iter() {
                let at = span(file, item.span());
                let cavity = |value: &Spanned<DeValue<'_>>| match value.get_ref() {
                    DeValue::String(text) => Some((span(file, value.span()), Name::from(text.trim()))),
                    _ => None,
                };
                let pair = match item.get_ref() {
                    DeValue::Array(two) if two.len() == 2 => two.first().and_then(cavity).zip(two.get(1).and_then(cavity)),
                    _ => None,
                };
                match pair {
                    Some((a, b)) => list.push([a, b]),
                    None => {
                        whole = false;
                        wrong_type(field, at, &expected(field), None, out);
                    }
                }
            }
            if whole { good(Value::Pairs(list)) } else { Slot::Bad }
        }
        (FieldKind::Groups(_), DeValue::Array(items)) => {
            let mut groups = Vec::new();
            let mut whole = true;
            for item in items.iter() {
                let name = |value: &Spanned<DeValue<'_>>| match value.get_ref() {
                    DeValue::String(text) => Some((span(file, value.span()), Name::from(text.trim()))),
                    _ => None,
                };
                let group = match item.get_ref() {
                    DeValue::Array(names) => names.iter().map(name).collect::<Option<Vec<_>>>(),
                    _ => None,
                };
                match group {
                    Some(group) => groups.push(group),
                    None => {
                        whole = false;
                        wrong_type(field, span(file, item.span()), &expected(field), None, out);
                    }
                }
            }
            if whole { good(Value::Groups(groups)) } else { Slot::Bad }
        }
        (FieldKind::Needs, DeValue::Array(items)) => match needs(field, items, at, file, out) {
            Some(list) if list.is_empty() => {
                out.push(empty(field, at));
                Slot::Bad
            }
            Some(list) => good(Value::Needs(list)),
            None => Slot::Bad,
        },
        (FieldKind::Ids(_) | FieldKind::Elements | FieldKind::Fitted, DeValue::Array(items)) => {
            let mut list = Vec::new();
            let mut whole = true;
            for item in items.iter() {
                let at = span(file, item.span());
                match item.get_ref() {
                    DeValue::String(text) => list.push((at, text.trim().into())),
                    _ => {
                        whole = false;
                        wrong_type(field, at, "a list of texts in quotes", None, out);
                    }
                }
            }
            if whole && list.is_empty() && field.filled {
                out.push(empty(field, at));
                return Slot::Bad;
            }
            if whole { good(Value::List(list)) } else { Slot::Bad }
        }
        (FieldKind::LeftOut, DeValue::Array(items)) => {
            let rule = FieldSpec { key: "rule", kind: FieldKind::Name, ..*field };
            let reason = FieldSpec { key: "reason", kind: FieldKind::Text, required: true, help: "why the rule is left out", ..*field };
            let mut first: HashMap<Name, Span> = HashMap::new();
            let mut list = Vec::new();
            let mut whole = true;
            for item in items.iter() {
                let at = span(file, item.span());
                let DeValue::Table(table) = item.get_ref() else {
                    whole = false;
                    wrong_type(field, at, "{ rule = \"…\", reason = \"…\" }", None, out);
                    continue;
                };
                for (key, _) in table.iter().filter(|(key, _)| !["rule", "reason"].contains(&&**key.get_ref())) {
                    unknown_key("a rule left out", key.get_ref(), span(file, key.span()), ["rule", "reason"].into_iter(), out);
                    whole = false;
                }
                let mut read = |spec: &FieldSpec| table.get(spec.key).map(|value| from_toml(spec, value, file, out));
                match (read(&rule), read(&reason)) {
                    (
                        Some(Slot::Good(Cell { value: Value::Text(rule), at, .. })),
                        Some(Slot::Good(Cell { value: Value::Text(why), .. })),
                    ) => {
                        if let Some(before) = first.insert(rule.clone(), at) {
                            out.push(
                                Diagnostic::error(codes::TWICE, at, "again", format!("{rule} is left out twice"))
                                    .note(before, "first")
                                    .help("keep one of the two, with its reason"),
                            );
                            whole = false;
                        }
                        list.push((rule, at, why.to_string()));
                    }
                    (Some(_), Some(_)) => whole = false,
                    _ => {
                        whole = false;
                        out.push(
                            Diagnostic::error(codes::MISSING_KEY, at, "", "a rule left out needs a rule and a reason")
                                .help("write { rule = \"VL-01\", reason = \"…\" }"),
                        );
                    }
                }
            }
            if whole { good(Value::LeftOut(list)) } else { Slot::Bad }
        }
        _ => bad(wrong_type(field, at, &expected(field), None, out)),
    }
}

/// Pairs of classes to be kept apart, each with its source.
fn apart<'a, 'i: 'a>(
    field: &FieldSpec,
    items: impl Iterator<Item = &'a Spanned<DeValue<'i>>>,
    at: Span,
    file: FileId,
    out: &mut Problems,
) -> Slot {
    const KEYS: [&str; 3] = ["classes", "source", "how"];
    const HOW: &[&str] = &["read", "memory", "practice"];
    let specs = [
        FieldSpec { key: "classes", kind: FieldKind::Ids("class"), required: true, filled: true, help: "the two classes", ..*field },
        FieldSpec { key: "source", kind: FieldKind::Text, required: true, help: "where the pair comes from", ..*field },
        FieldSpec { key: "how", kind: FieldKind::Words(HOW), ..*field },
    ];
    let mut list = Vec::new();
    let mut whole = true;
    for item in items {
        let item_at = span(file, item.span());
        let DeValue::Table(table) = item.get_ref() else {
            whole = false;
            wrong_type(field, item_at, "{ classes = [\"…\", \"…\"], source = \"…\", how = \"read\" }", None, out);
            continue;
        };
        for (key, _) in table.iter().filter(|(key, _)| !KEYS.contains(&&**key.get_ref())) {
            unknown_key("a pair apart", key.get_ref(), span(file, key.span()), KEYS.into_iter(), out);
            whole = false;
        }
        let mut read = |spec: &FieldSpec| table.get(spec.key).map(|value| from_toml(spec, value, file, out));
        let cell = |slot| match slot {
            Some(Slot::Good(cell)) => Some(cell),
            _ => None,
        };
        let found = [read(&specs[0]), read(&specs[1]), read(&specs[2])];
        if found.iter().any(Option::is_none) {
            whole = false;
            out.push(
                Diagnostic::error(codes::MISSING_KEY, item_at, "", "a pair apart needs classes, source and how")
                    .help("write { classes = [\"…\", \"…\"], source = \"…\", how = \"read\" }; how is read, memory or practice"),
            );
            continue;
        }
        let [classes, source, how] = found.map(cell);
        match (classes.map(|c| (c.at, c.value)), source.map(|c| c.value), how.map(|c| c.value)) {
            (Some((_, Value::List(classes))), Some(Value::Text(source)), Some(Value::Text(how))) if classes.len() == 2 => {
                let [a, b] = [classes[0].clone(), classes[1].clone()];
                list.push(ApartRow { classes: [a, b], source: source.to_string(), how, at: item_at });
            }
            (Some((at, Value::List(_))), Some(_), Some(_)) => {
                whole = false;
                wrong_type(field, at, "a list of pairs of two classes", None, out);
            }
            _ => whole = false,
        }
    }
    if whole { Slot::Good(Cell { at, value: Value::Apart(list), mark: Mark::Firm }) } else { Slot::Bad }
}

/// A plain number in a cell of a list.
pub(crate) fn factor_from_cell(field: &FieldSpec, text: &str, at: Span, out: &mut Problems) -> Slot {
    match text.parse::<f64>() {
        Ok(n) if n.is_finite() && in_range(field, n, text, at, out) => Slot::Good(Cell { at, value: Value::Plain(n), mark: Mark::Firm }),
        Ok(n) if n.is_finite() => Slot::Bad,
        _ => {
            wrong_type(field, at, "a plain number", None, out);
            Slot::Bad
        }
    }
}

/// A key that a table does not have, with the one that may have been meant.
pub(crate) fn unknown_key<'a>(of: &str, key: &str, at: Span, keys: impl Iterator<Item = &'a str> + Clone, out: &mut Problems) {
    let meant = out.closest(key, keys.clone());
    let mut diagnostic = Diagnostic::error(codes::UNKNOWN_KEY, at, "", format!("{of} has no key {key:?}"));
    diagnostic = match meant {
        Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(at, meant),
        None => {
            let keys: Vec<&str> = keys.collect();
            if keys.is_empty() { diagnostic.help("it has no keys") } else { diagnostic.help(format!("its keys: {}", keys.join(", "))) }
        }
    };
    out.push(diagnostic);
}

pub(crate) fn span(file: FileId, range: std::ops::Range<usize>) -> Span {
    // Files of 4 GiB or more were refused before.
    Span { file, start: range.start as u32, end: range.end as u32 }
}

/// A field that must say something and says nothing.
fn empty(field: &FieldSpec, at: Span) -> Diagnostic {
    Diagnostic::error(codes::EMPTY, at, "", format!("{} is empty", field.key)).help(format!("write {}", field.help))
}

fn can_be_confirmed(kind: FieldKind) -> bool {
    matches!(
        kind,
        FieldKind::Number(_) | FieldKind::NumberOr(..) | FieldKind::Either(..) | FieldKind::Spread(_) | FieldKind::End | FieldKind::Name
    )
}

/// `TBC 4.5 A [owner; 2027-03-01]` → its mark, the value, who answers by when.
fn split_mark(text: &str) -> (Option<&'static str>, &str, Loose) {
    let text = text.trim();
    let mark = ["TBD", "TBC"]
        .into_iter()
        .find(|m| text.strip_prefix(m).is_some_and(|rest| rest.is_empty() || rest.starts_with(|c: char| c.is_whitespace() || c == '[')));
    let Some(mark) = mark else { return (None, text, Loose::default()) };
    let mut rest = text[mark.len()..].trim();
    let mut loose = Loose::default();
    if rest.ends_with(']')
        && let Some(open) = rest.rfind('[')
    {
        for word in rest[open + 1..rest.len() - 1].split(';').map(str::trim).filter(|w| !w.is_empty()) {
            if is_date(word) {
                loose.need = Some(word.to_owned());
            } else if loose.owner.is_none() {
                loose.owner = Some(word.to_owned());
            }
        }
        rest = rest[..open].trim();
    }
    (Some(mark), rest, loose)
}

fn free_text(text: &str, at: Span, out: &mut Problems) -> Option<Name> {
    let length = text.chars().count();
    if length > TEXT_CHARACTERS {
        out.push(
            Diagnostic::error(codes::TOO_LONG, at, "", format!("a text of {length} characters; {TEXT_CHARACTERS} are read"))
                .help("keep the long text in a document of its own and name it here"),
        );
        return None;
    }
    Some(text.into())
}

/// A number with its unit. `whole` puts a replacement of it into the text around it.
fn number(
    field: &FieldSpec,
    quantity: Quantity,
    text: &str,
    at: Span,
    plain: Option<&Unit>,
    whole: &dyn Fn(String) -> String,
    out: &mut Problems,
) -> Option<f64> {
    let read = match plain {
        Some(unit) => quantity::parse_plain(text, quantity, unit),
        None => quantity::parse(text, quantity),
    };
    match read {
        Ok(si) => in_range(field, si, text, at, out).then_some(si),
        Err(fault) => {
            let code = match fault {
                Fault::NoUnit => codes::NO_UNIT,
                Fault::OtherQuantity(..) | Fault::UnknownUnit(_) => codes::WRONG_UNIT,
                Fault::NoNumber | Fault::Comma | Fault::UnitFirst | Fault::NoSuchGauge | Fault::NotFinite => codes::NOT_A_NUMBER,
            };
            let (mut message, mut help) = quantity::explain(&fault, text, quantity);
            let mut mended = quantity::mended(&fault, text, quantity, plain);
            match (plain, &fault) {
                (Some(unit), Fault::OtherQuantity(..) | Fault::UnknownUnit(_)) => {
                    if let Fault::UnknownUnit(word) = &fault
                        && let Some(own) = quantity.unit(word)
                    {
                        message = if own == unit {
                            format!("the cell has the unit {} that the head of its column states", own.word)
                        } else {
                            format!("the cell has the unit {}, the head of its column {}", own.word, unit.word)
                        };
                    }
                    help = format!("the head of the column states the unit {}; write the number alone", unit.word);
                }
                (_, Fault::NoNumber) if matches!(text.to_lowercase().as_str(), "-" | "--" | "—" | "?" | "n/a" | "na" | "none" | "x") => {
                    let empty = if plain.is_some() { "leave the cell empty" } else { "leave it out" };
                    help = if field.open {
                        format!("{empty} if nothing is to stand here, or write TBD")
                    } else {
                        format!("write {}", field.help)
                    };
                }
                (Some(_), Fault::NoNumber) if mended.is_none() => {
                    help = "write a plain number; the head of the column states its unit".to_owned();
                }
                _ => {}
            }
            // A replacement must be one that the field takes.
            let read_again = |text: &str| match plain {
                Some(unit) => quantity::parse_plain(text, quantity, unit),
                None => quantity::parse(text, quantity),
            };
            mended = mended.filter(|text| read_again(text).is_ok_and(|si| is_inside(field, si)));
            let mut diagnostic = Diagnostic::error(code, at, "", message);
            if let Some(mended) = mended {
                help = format!("write {}", whole(mended.clone()));
                diagnostic = diagnostic.replace(at, whole(mended));
            }
            out.push(diagnostic.help(help));
            None
        }
    }
}

fn in_range(field: &FieldSpec, si: f64, text: &str, at: Span, out: &mut Problems) -> bool {
    let inside = is_inside(field, si);
    if !inside {
        out.push(Diagnostic::error(codes::OUT_OF_RANGE, at, "", format!("{text} is out of range")).help(format!(
            "{} takes {}",
            field.key,
            field.range_words()
        )));
    }
    inside
}

fn is_inside(field: &FieldSpec, si: f64) -> bool {
    let Some(range) = field.range else { return true };
    let above = if range.least_in { si >= range.least } else { si > range.least };
    above && si <= range.greatest
}

fn one_of(words: &'static [&'static str], text: &str, at: Span, out: &mut Problems) -> Option<&'static str> {
    if let Some(word) = words.iter().find(|w| **w == text) {
        return Some(word);
    }
    let meant = out.closest(text, words.iter().copied());
    let diagnostic = Diagnostic::error(codes::UNKNOWN_WORD, at, "", format!("{text:?} is not one of {}", quoted(words)));
    out.push(match meant {
        Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(at, meant),
        None => diagnostic,
    });
    None
}

fn spread(field: &FieldSpec, quantity: Quantity, found: [Slot; 3], at: Span, out: &mut Problems) -> Slot {
    if found.iter().any(|slot| matches!(slot, Slot::Bad)) {
        return Slot::Bad;
    }
    let part = |slot: Slot| match slot {
        Slot::Good(Cell { at, value: Value::Number(_, si), mark }) => Some(Part { si, at, mark }),
        _ => None,
    };
    let [low, typical, high] = found.map(part);
    let Some(typical) = typical else {
        out.push(Diagnostic::error(codes::MISSING_KEY, at, "", format!("{} has no typical value", field.key)).help(format!(
            "write {{ low = \"…\", typical = \"{}\", high = \"…\" }}; low and high may be left out",
            quantity::example(quantity)
        )));
        return Slot::Bad;
    };
    let low = low.unwrap_or_else(|| typical.clone());
    let high = high.unwrap_or_else(|| typical.clone());
    for (a, a_word, b, b_word) in [(&low, "low", &typical, "typical"), (&typical, "typical", &high, "high")] {
        if a.si > b.si {
            let show = |p: &Part| quantity::show(p.si, quantity);
            out.push(
                Diagnostic::error(
                    codes::SPREAD_ORDER,
                    a.at,
                    a_word,
                    format!("the {a_word} value {} is above the {b_word} value {}", show(a), show(b)),
                )
                .note(b.at, b_word)
                .help("low, typical and high order the number itself, whatever it does to a voltage"),
            );
            return Slot::Bad;
        }
    }
    Slot::Good(Cell { at, value: Value::Spread(Box::new([low, typical, high])), mark: Mark::Firm })
}

fn bare_number(field: &FieldSpec, quantity: Quantity, value: &DeValue<'_>, at: Span, out: &mut Problems) -> Slot {
    let text = match value {
        DeValue::Integer(n) => n.as_str(),
        DeValue::Float(n) => n.as_str(),
        _ => "",
    };
    let (message, help) = quantity::explain(&Fault::NoUnit, text, quantity);
    out.push(Diagnostic::error(codes::NO_UNIT, at, field.key, message).help(help));
    Slot::Bad
}

fn wrong_type(field: &FieldSpec, at: Span, expected: &str, mended: Option<String>, out: &mut Problems) -> Option<Value> {
    let mut diagnostic = Diagnostic::error(codes::WRONG_TYPE, at, "", format!("{} is {expected}", field.key));
    if let Some(mended) = mended {
        diagnostic = diagnostic.help(format!("write {mended}")).replace(at, mended);
    }
    out.push(diagnostic);
    None
}

fn expected(field: &FieldSpec) -> String {
    match field.kind {
        FieldKind::Text | FieldKind::Name | FieldKind::Id(_) => "a text in quotes".to_owned(),
        FieldKind::Words(words) => format!("one of {}", quoted(words)),
        FieldKind::Flag => "true or false".to_owned(),
        FieldKind::Count => "a whole number".to_owned(),
        FieldKind::Plain => "a plain number in the rule's unit".to_owned(),
        FieldKind::Number(q) | FieldKind::NumberOr(q, _) | FieldKind::Either(q, _) => {
            format!("{} in quotes, for example \"{}\"", q.title(), quantity::example(q))
        }
        FieldKind::Spread(q) => {
            format!(
                "{} in quotes, for example \"{}\", or {{ low = \"…\", typical = \"…\", high = \"…\" }}",
                q.title(),
                quantity::example(q)
            )
        }
        FieldKind::End => "an end in quotes, for example \"J3.14\" or \"splice:SP1\"".to_owned(),
        FieldKind::Ids(kind) => format!("a list of ids of {kind}s"),
        FieldKind::Groups(kind) => format!("a list of groups of ids of {kind}s in quotes, for example [[\"V1\", \"V2\"], [\"V3\"]]"),
        FieldKind::Elements => "a list of elements, for example [\"switch:S1\"]".to_owned(),
        FieldKind::Needs => NEEDS.to_owned(),
        FieldKind::Watched => "what is watched in quotes, for example \"bus:A\" or \"breaker:CB1\"".to_owned(),
        FieldKind::Fitted => "a list of ids of plugs, caps, savers and adapters".to_owned(),
        FieldKind::Pairs => "a list of pairs in quotes, for example [[\"1\", \"2\"]]".to_owned(),
        FieldKind::Date => "a date, YYYY-MM-DD".to_owned(),
        FieldKind::Limit(_) => "{ value = \"…\", source = \"…\", how = \"read\" }".to_owned(),
        FieldKind::LeftOut => "a list of { rule = \"…\", reason = \"…\" }".to_owned(),
        FieldKind::Position => "three lengths in quotes, for example [\"1.2 m\", \"-0.3 m\", \"0 m\"]".to_owned(),
        FieldKind::Factor => "a plain number without quotes".to_owned(),
        FieldKind::Via => "ids of breakouts and segments, for example \"B3 S12\"".to_owned(),
        FieldKind::Apart => "a list of { classes = [\"…\", \"…\"], source = \"…\", how = \"read\" }".to_owned(),
    }
}

/// How a need is written.
const NEEDS: &str = "a list of \"kind:name\", { any = […] }, { at_least = 2, of = […] } and { path = [\"J1.3\", \"J7.5\"] }";

/// What has to work; `None` if anything of it was not understood and has been reported. No deeper than the text itself may be.
fn needs(field: &FieldSpec, items: &toml::de::DeArray<'_>, at: Span, file: FileId, out: &mut Problems) -> Option<Vec<NeedRow>> {
    let mut list = Some(Vec::new());
    for item in items.iter() {
        let one = need(field, item, file, out);
        list = list.zip(one).map(|(mut list, one)| {
            list.push(one);
            list
        });
    }
    if items.is_empty() {
        out.push(empty(field, at));
        return None;
    }
    list
}

fn need(field: &FieldSpec, item: &Spanned<DeValue<'_>>, file: FileId, out: &mut Problems) -> Option<NeedRow> {
    const KEYS: [&str; 4] = ["any", "at_least", "of", "path"];
    let at = span(file, item.span());
    let table = match item.get_ref() {
        DeValue::String(text) => return Some(NeedRow::One(at, text.trim().into())),
        DeValue::Array(items) => return needs(field, items, at, file, out).map(NeedRow::All),
        DeValue::Table(table) => table,
        _ => {
            wrong_type(field, at, NEEDS, None, out);
            return None;
        }
    };
    let mut known = true;
    for (key, _) in table.iter().filter(|(key, _)| !KEYS.contains(&&**key.get_ref())) {
        unknown_key("a need", key.get_ref(), span(file, key.span()), KEYS.into_iter(), out);
        known = false;
    }
    if !known {
        return None;
    }
    let inner = |key: &str, out: &mut Problems| -> Option<Vec<NeedRow>> {
        let value = table.get(key)?;
        let at = span(file, value.span());
        match value.get_ref() {
            DeValue::Array(items) => needs(field, items, at, file, out),
            _ => {
                wrong_type(field, at, &format!("a list behind {key}"), None, out);
                None
            }
        }
    };
    let mut keys: Vec<&str> = KEYS.into_iter().filter(|key| table.get(*key).is_some()).collect();
    keys.sort_unstable();
    match keys[..] {
        ["any"] => inner("any", out).map(|list| NeedRow::AtLeast(1, list)),
        ["at_least", "of"] => {
            let count = FieldSpec { key: "at_least", kind: FieldKind::Count, range: Some(crate::fields::SOME), ..*field };
            let least = table.get("at_least").map(|value| from_toml(&count, value, file, out));
            let list = inner("of", out)?;
            let Some(Slot::Good(Cell { value: Value::Count(least), at, .. })) = least else { return None };
            if least as usize > list.len() {
                out.push(
                    Diagnostic::error(codes::OUT_OF_RANGE, at, "", format!("at least {least} of {} can never be", list.len()))
                        .help(format!("at_least goes from 1 to the number of what stands behind of: {}", list.len())),
                );
                return None;
            }
            Some(NeedRow::AtLeast(least, list))
        }
        ["path"] => {
            let ends = table.get("path").map(Spanned::get_ref).and_then(|value| match value {
                DeValue::Array(ends) => Some(ends),
                _ => None,
            });
            let end = |value: &Spanned<DeValue<'_>>| match value.get_ref() {
                DeValue::String(text) => Some((span(file, value.span()), Name::from(text.trim()))),
                _ => None,
            };
            match ends.map(|ends| ends.iter().map(end).collect::<Option<Vec<_>>>()) {
                Some(Some(ends)) if ends.len() == 2 => Some(NeedRow::Path(at, [ends[0].clone(), ends[1].clone()])),
                _ => {
                    wrong_type(field, at, "two ends behind path, for example { path = [\"J1.3\", \"J7.5\"] }", None, out);
                    None
                }
            }
        }
        _ => {
            wrong_type(field, at, "one of { any = […] }, { at_least = 2, of = […] } and { path = [\"J1.3\", \"J7.5\"] }", None, out);
            None
        }
    }
}

fn quoted(words: &[&str]) -> String {
    words.iter().map(|w| format!("{w:?}")).collect::<Vec<_>>().join(", ")
}

fn date(text: &str, at: Span, out: &mut Problems) -> Option<Value> {
    if is_date(text) {
        return Some(Value::Text(text.into()));
    }
    let diagnostic = Diagnostic::error(codes::BAD_DATE, at, "", format!("{text:?} is not a date"));
    out.push(match year_first(text) {
        Some(mended) => diagnostic.help(format!("write {mended}")).replace(at, mended),
        None => diagnostic.help("write YYYY-MM-DD, for example \"2026-03-02\""),
    });
    None
}

/// A date whose year comes first, with other marks between its numbers: `2026/3/2`. With the year last, day and month cannot be told
/// apart.
fn year_first(text: &str) -> Option<String> {
    let parts: Vec<&str> = text.split(['/', '.', '-', ' ']).collect();
    let is_number = |part: &&str, most: usize| (1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    let [year, month, day] = parts[..] else { return None };
    let date = format!("{year}-{month:0>2}-{day:0>2}");
    (year.len() == 4 && is_number(&year, 4) && is_number(&month, 2) && is_number(&day, 2) && is_date(&date)).then_some(date)
}

/// What is wrong with the mark of a value: another case, or words behind it that are neither one owner nor one day.
fn mark_fault(is_marked: bool, text: &str, at: Span) -> Option<Diagnostic> {
    let first = text.split(|c: char| c.is_whitespace() || c == '[').next().unwrap_or("");
    if !is_marked {
        let mark = ["TBD", "TBC"].into_iter().find(|m| m.eq_ignore_ascii_case(first))?;
        let mended = format!("{mark}{}", &text[first.len()..]);
        return Some(
            Diagnostic::error(codes::UNKNOWN_WORD, at, "", format!("{first} is written {mark}"))
                .help(format!("write {mended}"))
                .replace(at, mended),
        );
    }
    let words: Vec<&str> = match (text.strip_suffix(']'), text.rfind('[')) {
        (Some(text), Some(open)) => text[open + 1..].split(';').map(str::trim).filter(|w| !w.is_empty()).collect(),
        _ => return None,
    };
    let looks_like_a_date = |word: &&str| word.len() >= 6 && word.bytes().all(|b| b.is_ascii_digit() || b"-/.".contains(&b));
    if let Some(word) = words.iter().copied().find(|word| looks_like_a_date(word) && !is_date(word)) {
        return Some(
            Diagnostic::error(codes::BAD_DATE, at, "", format!("{word:?} is not a date"))
                .help("write who answers and by when: [owner; 2027-03-01]"),
        );
    }
    let dates = words.iter().filter(|word| is_date(word)).count();
    (dates > 1 || words.len() - dates > 1).then(|| {
        Diagnostic::error(codes::CONTRADICTION, at, "", format!("[{}] names more than one owner or day", words.join("; ")))
            .help("write one who answers and one day: [owner; 2027-03-01]")
    })
}

/// Whether a text is a day of the calendar, YYYY-MM-DD.
fn is_date(text: &str) -> bool {
    let bytes = text.as_bytes();
    if bytes.len() != 10 || bytes[4] != b'-' || bytes[7] != b'-' {
        return false;
    }
    let number =
        |range: std::ops::Range<usize>| text.get(range).filter(|t| t.bytes().all(|b| b.is_ascii_digit())).and_then(|t| t.parse().ok());
    let (Some(year), Some(month), Some(day)) = (number(0..4), number(5..7), number(8..10)) else { return false };
    let (year, month, day): (u32, u32, u32) = (year, month, day);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return false,
    };
    (1..=days).contains(&day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_of_the_calendar() {
        for day in ["2026-03-02", "2028-02-29", "2000-02-29"] {
            assert!(is_date(day), "{day}");
        }
        for text in ["2026-02-29", "1900-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "26-04-30", "2026/04/30", "2026-04-3é", ""] {
            assert!(!is_date(text), "{text}");
        }
    }

    #[test]
    fn dates_with_the_year_first() {
        assert_eq!(year_first("2026/3/2").as_deref(), Some("2026-03-02"));
        assert_eq!(year_first("2026.12.31").as_deref(), Some("2026-12-31"));
        for text in ["02.03.2026", "3/2/2026", "2026-02-30", "2026-3", "26/3/2", "2026/3/2/1", "2026-\u{663}-1"] {
            assert_eq!(year_first(text), None, "{text}");
        }
    }

    #[test]
    fn marks() {
        let split = |text| {
            let (mark, rest, loose) = split_mark(text);
            (mark, rest.to_owned(), loose.owner, loose.need)
        };
        let own = |t: &str| Some(t.to_owned());
        assert_eq!(split("TBD"), (Some("TBD"), String::new(), None, None));
        assert_eq!(split("TBD [thermal; 2027-03-01]"), (Some("TBD"), String::new(), own("thermal"), own("2027-03-01")));
        assert_eq!(split("TBC 4.5 A [2027-03-01]"), (Some("TBC"), "4.5 A".to_owned(), None, own("2027-03-01")));
        assert_eq!(split("TBC 4.5 A"), (Some("TBC"), "4.5 A".to_owned(), None, None));
        assert_eq!(split("TBDX"), (None, "TBDX".to_owned(), None, None));
    }
}
