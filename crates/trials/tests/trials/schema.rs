//! The schema for editors, held by an independent library: it is one, every example satisfies it, and it refuses what the reader refuses
//! of one file's keys, types, units, words and ranges, at the same key.

use input::codes;
use jsonschema::Validator;
use model::{Code, Diagnostic, Severity};
use serde_json::Value;
use std::path::{Path, PathBuf};
use trials::{read_folder, root};

/// A TOML text as JSON; `None` if its syntax is at fault. Dates become texts.
fn as_json(text: &str) -> Option<Value> {
    fn plain(value: Value) -> Value {
        match value {
            Value::Object(map) => match map.get("$__toml_private_datetime") {
                Some(date) => date.clone(),
                None => map.into_iter().map(|(key, value)| (key, plain(value))).collect(),
            },
            Value::Array(list) => list.into_iter().map(plain).collect(),
            value => value,
        }
    }
    toml::from_str::<Value>(text).ok().map(plain)
}

fn validator() -> Validator {
    let schema: Value = serde_json::from_str(&input::schema()).expect("the schema is JSON");
    if let Err(why) = jsonschema::draft202012::meta::validate(&schema) {
        panic!("no schema of draft 2020-12: {why} at {}", why.instance_path());
    }
    jsonschema::draft202012::new(&schema).expect("a schema that compiles")
}

/// What is wrong with an instance: where, and in which words.
fn faults(validator: &Validator, instance: &Value) -> Vec<(String, String)> {
    validator.iter_errors(instance).map(|e| (e.instance_path().to_string(), e.to_string())).collect()
}

fn toml_files(folder: &Path) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(toml_files(&path));
        } else if path.extension().is_some_and(|e| e == "toml") {
            found.push((path.clone(), String::from_utf8_lossy(&std::fs::read(&path).expect("readable")).into_owned()));
        }
    }
    found.sort();
    found
}

#[test]
fn every_toml_file_of_the_examples_satisfies_it() {
    let validator = validator();
    let files: Vec<_> = ["examples", "catalog"].iter().flat_map(|folder| toml_files(&root().join(folder))).collect();
    assert!(files.len() > 40, "{} files", files.len());
    // A file of measurements is none of the vehicle: its reader has keys of its own.
    for (path, text) in files.iter().filter(|(path, _)| !path.components().any(|part| part.as_os_str() == "measured")) {
        let instance = as_json(text).unwrap_or_else(|| panic!("{} is not TOML", path.display()));
        assert_eq!(faults(&validator, &instance), [], "{}", path.display());
    }
    println!("{} files satisfy the schema", files.len());
}

#[test]
fn every_example_of_the_table_of_fields_satisfies_it() {
    let validator = validator();
    for table in input::tables().iter().filter(|t| t.form != input::Form::Csv) {
        let instance = as_json(table.example).expect("an example is TOML");
        assert_eq!(faults(&validator, &instance), [], "{}", table.key);
    }
}

/// Codes that speak of a value or key alone, without regard to another row or file.
const OF_ONE_VALUE: &[Code] = &[
    codes::UNKNOWN_KEY,
    codes::UNKNOWN_TABLE,
    codes::WRONG_TYPE,
    codes::NO_UNIT,
    codes::WRONG_UNIT,
    codes::NOT_A_NUMBER,
    codes::OUT_OF_RANGE,
    codes::UNKNOWN_WORD,
    codes::BAD_ID,
    codes::BAD_DATE,
    codes::EMPTY,
    codes::TOO_LONG,
    codes::NOT_FOR_THIS_KIND,
];

/// Whether a diagnostic speaks so. The kinds of sensors have rules between their keys that use the same codes.
fn is_of_one_value(diagnostic: &Diagnostic) -> bool {
    let message = &diagnostic.message;
    OF_ONE_VALUE.contains(&diagnostic.code)
        && match diagnostic.code {
            codes::OUT_OF_RANGE => message.ends_with("is out of range") || message.ends_with("is out of its range"),
            codes::WRONG_UNIT => message.contains("is expected here"),
            codes::NOT_FOR_THIS_KIND => message.contains(" sensor has no "),
            _ => true,
        }
}

/// Where a line of a TOML text stands: the path of the table above it, and its key.
fn path_of(text: &str, line: usize) -> (String, String) {
    let mut table = String::new();
    let mut key = String::new();
    for text in text.lines().take(line) {
        let text = text.trim();
        if let Some(header) = text.strip_prefix('[').filter(|_| !text.contains('=')) {
            let header = header.trim_start_matches('[').split(']').next().unwrap_or("");
            let (kind, id) = header.split_once('.').unwrap_or((header, ""));
            table = format!("/{kind}");
            if !id.is_empty() {
                table = format!("{table}/{}", id.trim_matches('"').replace('~', "~0").replace('/', "~1"));
            }
            key.clear();
        } else if let Some((word, _)) = text.split_once('=').filter(|_| !text.starts_with('#')) {
            key = word.trim().trim_matches('"').to_owned();
        }
    }
    (table, key)
}

#[test]
fn what_the_reader_refuses_of_one_value_the_schema_refuses_there() {
    let validator = validator();
    let (mut held, mut clean) = (0, 0);
    let folder = root().join("crates/input/tests/broken");
    let mut inputs: Vec<_> =
        std::fs::read_dir(&folder).expect("the folder of marked inputs").map(|e| e.expect("an entry").path()).collect();
    inputs.sort();
    for input_path in inputs {
        let files = match input_path.is_dir() {
            true => read_folder(&input_path),
            false if input_path.extension().is_some_and(|e| e == "toml") => {
                vec![("vehicle.toml".to_owned(), std::fs::read(&input_path).expect("readable"))]
            }
            false => continue,
        };
        let loaded = input::load(&files);
        for (path, bytes) in files.iter().filter(|(path, _)| path.ends_with(".toml")) {
            let Ok(text) = std::str::from_utf8(bytes) else { continue };
            let Some(instance) = as_json(text) else { continue };
            let faults = faults(&validator, &instance);
            let said: Vec<_> = loaded
                .diagnostics
                .iter()
                .filter(|d| d.severity == Severity::Error)
                .filter_map(|d| Some((d, loaded.sources.position(d.places.first()?.at))))
                .filter(|(_, at)| at.path == *path)
                .collect();
            let name = format!("{}: {path}", input_path.display());
            for (diagnostic, at) in said.iter().filter(|(d, _)| is_of_one_value(d)) {
                let (table, key) = path_of(text, at.line);
                let whole = if key.is_empty() { table.clone() } else { format!("{table}/{key}") };
                // A key that is too much is told of its table, with the key in the words.
                let there = |(path, words): &(String, String)| {
                    path.starts_with(&whole)
                        || (whole.starts_with(path.as_str())
                            && (words.contains(&format!("'{key}'")) || key.is_empty() || words.contains("False schema")))
                };
                let where_it_is = whole.rsplit('/').next().unwrap_or("").to_owned();
                let in_words = |(path, words): &(String, String)| whole.starts_with(path.as_str()) && words.contains(&where_it_is);
                assert!(
                    faults.iter().any(|f| there(f) || in_words(f)),
                    "{name}:{}: {} {} at {whole}; the schema says {faults:?}",
                    at.line,
                    diagnostic.code.0,
                    diagnostic.message
                );
                held += 1;
            }
            // Where nothing of the kind is wrong, the schema invents nothing.
            const OTHERS: &[Code] = &[codes::MISSING_KEY, codes::CANNOT_BE_OPEN, codes::BAD_END, codes::BAD_STATE, codes::CONTRADICTION];
            if !said.iter().any(|(d, _)| is_of_one_value(d) || OTHERS.contains(&d.code)) {
                assert_eq!(faults, [], "{name}");
                clean += 1;
            }
        }
    }
    println!("{held} problems of one value refused at their key, {clean} files without one satisfied");
    assert!(held >= 60 && clean >= 15, "{held} {clean}");
}

/// Numbers around both ends of a field's range, in every unit: the pattern takes what the reader takes.
#[test]
fn patterns_hold_the_ranges_of_the_reader() {
    let validator = validator();
    let mut tried = 0;
    for (kind, key) in [
        ("load", "volts_min"),
        ("load", "growth"),
        ("load", "current"),
        ("load", "power"),
        ("battery", "rating"),
        ("battery", "ohms"),
        ("battery", "emf"),
        ("receiver", "common_low"),
        ("phase", "ambient"),
        ("phase", "duration"),
        ("sensor", "sensitivity"),
    ] {
        let field = input::table(kind).and_then(|t| t.fields.iter().find(|f| f.key == key)).expect("a field of the table");
        let (quantity, range) = (field.quantity().expect("a number"), field.range.expect("with a range"));
        for unit in quantity.units() {
            for bound in [range.least, range.greatest] {
                let bound = unit.from_si(bound).round();
                for number in [bound - 1.0, bound, bound + 1.0, bound * 10.0, bound / 10.0, 0.0, 0.5, 7.25] {
                    let text = format!("{number} {}", unit.word);
                    let Ok(si) = input::quantity::parse(&text, quantity) else { continue };
                    // A bound that is no whole number in this unit is held to its whole part.
                    if [range.least, range.greatest]
                        .iter()
                        .any(|b| (unit.from_si(*b) - number).abs() < 1.0 && unit.from_si(*b).fract() != 0.0)
                    {
                        continue;
                    }
                    let inside = si <= range.greatest && if range.least_in { si >= range.least } else { si > range.least };
                    let at = |(path, _): &(String, String)| *path == format!("/{kind}/x/{key}");
                    let refused = faults(&validator, &serde_json::json!({ kind: { "x": { key: text } } })).iter().any(at);
                    assert_eq!(refused, !inside, "{kind}.{key} = {text:?}");
                    tried += 1;
                }
            }
        }
    }
    println!("{tried} numbers");
    assert!(tried > 400);
}
