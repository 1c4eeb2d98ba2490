//! The schema of a vehicle's TOML files for editors, written from the table of fields: JSON Schema, draft 2020-12.
//!
//! It says of one file what can be said without the others: keys, types, units, ranges, words. A range of a number with its unit stands in
//! the pattern of its text, unit by unit; a number with an exponent is left to the reader, and so is every id that must exist elsewhere.

use crate::fields::{self, FieldKind, FieldSpec, Form, Range, TableSpec};
use crate::limits::TEXT_CHARACTERS;
use crate::names::{ELEMENT_KINDS, FITTED_KINDS};
use crate::quantity::Quantity;
use serde_json::{Map, Value, json};

/// The schema as text with a line end.
pub fn schema() -> String {
    let mut shared = Shared::default();
    let mut properties = Map::new();
    for table in fields::tables() {
        match table.form {
            Form::Root => {
                for field in table.fields {
                    properties.insert(field.key.to_owned(), described(field, value(field, &mut shared)));
                }
            }
            Form::Table => {
                let rows = rows(table, &mut shared);
                // `profile` is a word at the top of one file and the rows of profiles in another.
                let whole = match properties.get(table.key) {
                    Some(word) => json!({ "anyOf": [word, rows] }),
                    None => rows,
                };
                properties.insert(table.key.to_owned(), whole);
            }
            Form::Csv => {}
        }
    }
    let schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "a TOML file of a Loomwright vehicle folder",
        "description": "Any .toml file at the top of the folder or in its catalog; ids of other files and what depends on more than one \
                        value are judged by `loomwright check` alone.",
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
        "$defs": shared.defs,
    });
    let mut text = serde_json::to_string_pretty(&schema).expect("a tree of texts and numbers serialises");
    text.push('\n');
    text
}

/// Parts that many fields have in common.
#[derive(Default)]
struct Shared {
    defs: Map<String, Value>,
}

impl Shared {
    /// A reference to a part; equal parts share one.
    fn part(&mut self, name: &str, part: Value) -> Value {
        let mut number = 1;
        loop {
            let key = if number == 1 { name.to_owned() } else { format!("{name}-{number}") };
            match self.defs.get(&key) {
                Some(known) if *known != part => number += 1,
                _ => {
                    let reference = json!({ "$ref": format!("#/$defs/{key}") });
                    self.defs.insert(key, part);
                    return reference;
                }
            }
        }
    }
}

/// `[kind.ID]` tables of a kind.
fn rows(table: &TableSpec, shared: &mut Shared) -> Value {
    let names = match table.key {
        "disposition" => json!({ "pattern": "^[^/]+/[^:]*:.*$", "maxLength": 200 }),
        _ => shared.part("id", json!({ "type": "string", "pattern": anchored(ID) })),
    };
    json!({
        "type": "object",
        "description": table.doc,
        "propertyNames": names,
        "additionalProperties": row(table, shared),
    })
}

fn row(table: &TableSpec, shared: &mut Shared) -> Value {
    let mut properties = Map::new();
    for field in table.fields {
        properties.insert(field.key.to_owned(), described(field, value(field, shared)));
    }
    let required: Vec<&str> = table.fields.iter().filter(|f| f.required).map(|f| f.key).collect();
    let mut row = json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false });
    // A row whose `kind` says which further keys it has and needs.
    let kinds = match table.fields.iter().find(|f| f.key == "kind").map(|f| f.kind) {
        Some(FieldKind::Words(words)) if table.fields.iter().any(|f| !f.only.is_empty()) => words,
        _ => return row,
    };
    let of_kind = |kind: &str| {
        let (own, others): (Vec<&FieldSpec>, Vec<&FieldSpec>) =
            table.fields.iter().filter(|f| !f.only.is_empty()).partition(|f| f.only.split(", ").any(|k| k == kind));
        let needed: Vec<&str> = own.iter().filter(|f| f.default.is_empty()).map(|f| f.key).collect();
        let foreign: Map<String, Value> = others.iter().map(|f| (f.key.to_owned(), json!(false))).collect();
        json!({
            "if": { "properties": { "kind": { "const": kind } }, "required": ["kind"] },
            "then": { "required": needed, "properties": foreign },
        })
    };
    row["allOf"] = kinds.iter().map(|kind| of_kind(kind)).collect();
    row
}

/// A field's value with what it means, its range and what counts where it is missing.
fn described(field: &FieldSpec, mut value: Value) -> Value {
    let mut words = vec![field.help.to_owned()];
    let range = field.range_words();
    if !range.is_empty() {
        words.push(range);
    }
    if !field.only.is_empty() {
        words.push(format!("only of kind {}", field.only));
    }
    if !field.default.is_empty() {
        words.push(format!("if missing: {}", field.default));
    }
    if field.open {
        words.push("may be TBD".to_owned());
    }
    if let Some(map) = value.as_object_mut() {
        map.insert("description".to_owned(), words.join(" · ").into());
    }
    value
}

fn value(field: &FieldSpec, shared: &mut Shared) -> Value {
    let text = |pattern: String| json!({ "type": "string", "pattern": anchored(&pattern) });
    let list = |of: Value| {
        if field.filled { json!({ "type": "array", "items": of, "minItems": 1 }) } else { json!({ "type": "array", "items": of }) }
    };
    let closed = match field.kind {
        FieldKind::Text if field.required => json!({ "type": "string", "pattern": "\\S", "maxLength": TEXT_CHARACTERS }),
        FieldKind::Text => json!({ "type": "string", "maxLength": TEXT_CHARACTERS }),
        FieldKind::Name => shared.part("name", text(may_be_to_confirm(ID))),
        FieldKind::Words(words) => json!({ "enum": words }),
        FieldKind::Flag => json!({ "type": "boolean" }),
        FieldKind::Count => {
            let Range { least, greatest, .. } = field.range.expect("the table of fields gives every count a range");
            json!({ "type": "integer", "minimum": least as u64, "maximum": greatest as u64 })
        }
        FieldKind::Plain => json!({ "type": "number" }),
        FieldKind::Number(q) => shared.part(&name_of(q), text(may_be_to_confirm(&number(q, field.range)))),
        FieldKind::NumberOr(q, word) => shared.part(&name_of(q), text(may_be_to_confirm(&format!("{}|{word}", number(q, field.range))))),
        FieldKind::Either(a, b) => {
            let pattern = format!("{}|{}", number(a, field.range), number(b, field.range));
            shared.part(&format!("{}-or-{}", name_of(a), name_of(b)), text(may_be_to_confirm(&pattern)))
        }
        FieldKind::Spread(q) => {
            let one = shared.part(&name_of(q), text(may_be_to_confirm(&number(q, field.range))));
            json!({ "anyOf": [
                one,
                {
                    "type": "object",
                    "properties": { "low": one, "typical": one, "high": one },
                    "required": ["typical"],
                    "additionalProperties": false,
                },
            ] })
        }
        FieldKind::End => {
            let kinds = "(?:splice|stud|ground|shell|case|bus|node|branch|breakout)";
            shared.part("end", text(may_be_to_confirm(&format!("{kinds}\\s*:\\s*{ID}|{ID}\\.{ID}"))))
        }
        FieldKind::Id(_) => shared.part("id-of-a-row", text(ID.to_owned())),
        FieldKind::Ids(_) => list(shared.part("id-of-a-row", text(ID.to_owned()))),
        FieldKind::Groups(_) => {
            let id = shared.part("id-of-a-row", text(ID.to_owned()));
            json!({ "type": "array", "items": { "type": "array", "items": id } })
        }
        FieldKind::Elements => list(shared.part("element", text(format!("(?:{})\\s*:\\s*{ID}", ELEMENT_KINDS.join("|"))))),
        FieldKind::Watched => text(format!("(?:bus|{})\\s*:\\s*{ID}", ELEMENT_KINDS.join("|"))),
        FieldKind::Needs => {
            let element = shared.part("element", text(format!("(?:{})\\s*:\\s*{ID}", ELEMENT_KINDS.join("|"))));
            let end = text(format!("(?:splice|stud|ground|shell|case|bus|node|branch|breakout)\\s*:\\s*{ID}|{ID}\\.{ID}"));
            let inner = json!({ "type": "array", "minItems": 1, "items": { "$ref": "#/$defs/need" } });
            let closed = |properties: Value, required: &[&str]| json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false });
            let path = json!({ "path": { "type": "array", "items": end, "minItems": 2, "maxItems": 2 } });
            let least = json!({ "at_least": { "type": "integer", "minimum": 1 }, "of": inner });
            let need = json!({ "anyOf": [
                element,
                inner,
                closed(json!({ "any": inner }), &["any"]),
                closed(least, &["at_least", "of"]),
                closed(path, &["path"]),
            ] });
            let one = shared.part("need", need);
            json!({ "type": "array", "items": one, "minItems": 1 })
        }
        FieldKind::Fitted => list(shared.part(
            "fitted",
            json!({ "type": "string", "pattern": anchored(ID), "description": format!("id of a {}", FITTED_KINDS.join(", ")) }),
        )),
        FieldKind::Pairs => {
            let cavity = shared.part("id-of-a-row", text(ID.to_owned()));
            json!({ "type": "array", "items": { "type": "array", "items": cavity, "minItems": 2, "maxItems": 2 } })
        }
        FieldKind::Date => shared.part("date", text(DAY.to_owned())),
        FieldKind::Limit(q) => {
            let one = shared.part(&name_of(q), text(may_be_to_confirm(&number(q, field.range))));
            json!({
                "type": "object",
                "properties": {
                    "value": one,
                    "source": { "type": "string", "pattern": "\\S", "maxLength": TEXT_CHARACTERS },
                    "how": { "enum": ["read", "memory", "practice"] },
                },
                "required": ["value", "source", "how"],
                "additionalProperties": false,
            })
        }
        FieldKind::Position => {
            let one = shared.part("length-of-either-sign", text(number(Quantity::Length, field.range)));
            json!({ "type": "array", "items": one, "minItems": 3, "maxItems": 3 })
        }
        FieldKind::Factor => {
            let Range { least, greatest, .. } = field.range.expect("the table of fields gives every factor a range");
            json!({ "type": "number", "minimum": least, "maximum": greatest })
        }
        FieldKind::Via => text(format!("{ID}(?:\\s+{ID})*")),
        FieldKind::Apart => {
            let class = shared.part("id-of-a-row", text(ID.to_owned()));
            json!({
                "type": "array",
                "items": {
                    "type": "object",
                    "properties": {
                        "classes": { "type": "array", "items": class, "minItems": 2, "maxItems": 2 },
                        "source": { "type": "string", "pattern": "\\S", "maxLength": TEXT_CHARACTERS },
                        "how": { "enum": ["read", "memory", "practice"] },
                    },
                    "required": ["classes", "source", "how"],
                    "additionalProperties": false,
                },
            })
        }
        FieldKind::LeftOut => json!({
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "rule": shared.part("id-of-a-row", text(ID.to_owned())),
                    "reason": { "type": "string", "pattern": "\\S", "maxLength": TEXT_CHARACTERS },
                },
                "required": ["rule", "reason"],
                "additionalProperties": false,
            },
        }),
    };
    if field.open {
        let open = shared.part("tbd", text(format!("TBD(?:\\s*{})?", owner())));
        json!({ "anyOf": [closed, open] })
    } else {
        closed
    }
}

/// An id: see `name_fault` of the model.
const ID: &str = "[^\\s\\u0000-\\u001F,;:@=.*?\"'\\\\`]{1,64}";

/// A day of the calendar, but for the 29th of February.
const DAY: &str = "\\d{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12]\\d|3[01])|(?:0[469]|11)-(?:0[1-9]|[12]\\d|30)|02-(?:0[1-9]|[12]\\d))";

/// Who answers, and by when: one of each, in either order.
fn owner() -> String {
    let word = "(?![0-9./-]{6,}\\s*[;\\]])[^;\\]]*";
    format!("\\[\\s*(?:{word}(?:;\\s*{DAY}\\s*)?|{DAY}\\s*(?:;{word})?)\\]")
}

fn anchored(pattern: &str) -> String {
    format!("^\\s*(?:{pattern})\\s*$")
}

/// A value that may stand behind `TBC`.
fn may_be_to_confirm(pattern: &str) -> String {
    // TBD and TBC themselves are no value, in no case.
    format!("(?![Tt][Bb][CcDd](?:[\\s\\[]|$))(?:{pattern})|TBC\\s+(?:{pattern})(?:\\s*{})?", owner())
}

fn name_of(quantity: Quantity) -> String {
    quantity.title().trim_start_matches("an ").trim_start_matches("a ").replace(' ', "-")
}

/// A number with each unit of a quantity, inside a range in SI.
fn number(quantity: Quantity, range: Option<Range>) -> String {
    if quantity == Quantity::Gauge {
        return "(?:0{1,4}|[1-4]/0|[1-9]|[1-3]\\d|40)\\s*(?:AWG|awg)".to_owned();
    }
    let each = quantity.units().iter().map(|unit| {
        let words: Vec<String> = [unit.word].into_iter().chain(unit.others.iter().copied()).map(escaped).collect();
        // A unit with a zero of its own has its least value below zero.
        let least = range.map_or(f64::NEG_INFINITY, |r| unit.from_si(r.least));
        let greatest = range.map_or(f64::INFINITY, |r| unit.from_si(r.greatest));
        let below_zero = if least < 0.0 { format!("-{}|", at_most(-least)) } else { String::new() };
        let not_zero = if range.is_some_and(|r| r.least == 0.0 && !r.least_in) { "(?!(?:0+\\.?0*|\\.0+)(?:[^0-9.]|$))" } else { "" };
        format!("(?:{below_zero}\\+?{not_zero}{})\\s*(?:{})", at_most(greatest), words.join("|"))
    });
    each.collect::<Vec<_>>().join("|")
}

/// A decimal without sign that is no larger than a bound; one with an exponent may be.
fn at_most(bound: f64) -> String {
    const EXPONENT: &str = "(?:\\d+\\.?\\d*|\\.\\d+)[eE][+-]?\\d+";
    if bound >= 1e21 {
        return format!("(?:(?:\\d+\\.?\\d*|\\.\\d+)|{EXPONENT})");
    }
    // A bound that rounding has put a hair below a whole number is that number.
    let near = bound.round();
    let bound = if (bound - near).abs() <= 1e-9 * near.abs() { near } else { bound };
    let whole = format!("{:.0}", bound.floor());
    let digits = whole.as_bytes();
    let mut below: Vec<String> = Vec::new();
    if digits.len() > 1 {
        below.push(format!("\\d{{0,{}}}", digits.len() - 1));
    }
    for (at, digit) in digits.iter().enumerate().filter(|(_, digit)| **digit > b'0') {
        let rest = match digits.len() - at - 1 {
            0 => String::new(),
            n => format!("\\d{{{n}}}"),
        };
        below.push(format!("{}[0-{}]{rest}", &whole[..at], char::from(digit - 1)));
    }
    // Digits before the point are not needed: `.5`.
    if whole != "0" {
        below.push(String::new());
    }
    let below = if below.is_empty() { String::new() } else { format!("0*(?:{})(?:\\.\\d*)?|", below.join("|")) };
    let equal = if whole == "0" { "0*".to_owned() } else { format!("0*{whole}") };
    let fraction = if bound == bound.floor() { "0*" } else { "\\d*" };
    format!("(?=\\.?\\d)(?:{below}{equal}(?:\\.{fraction})?|{EXPONENT})(?![0-9.])")
}

fn escaped(word: &str) -> String {
    word.chars().flat_map(|c| if "/%².".contains(c) && c != '%' && c != '²' { vec!['\\', c] } else { vec![c] }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_schema_holds_every_table_and_field() {
        let schema: Value = serde_json::from_str(&schema()).expect("JSON");
        for table in fields::tables().iter().filter(|t| t.form != Form::Csv) {
            for field in table.fields {
                let at = match table.form {
                    Form::Root => &schema["properties"][field.key],
                    _ if table.key == "profile" => {
                        &schema["properties"]["profile"]["anyOf"][1]["additionalProperties"]["properties"][field.key]
                    }
                    _ => &schema["properties"][table.key]["additionalProperties"]["properties"][field.key],
                };
                let has_words = |v: &Value| v["description"].as_str().is_some_and(|words| words.starts_with(field.help));
                assert!(has_words(at) || has_words(&at["anyOf"][0]), "{}.{}", table.key, field.key);
            }
        }
    }
}
