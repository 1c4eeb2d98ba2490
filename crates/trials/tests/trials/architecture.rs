//! ARCHITECTURE.md against the manifests and the sources.

use std::collections::BTreeMap;
use std::path::Path;
use trials::{read_text, root};

/// Members in the order of the table, each with the members it uses.
fn written() -> Vec<(String, Vec<String>)> {
    let names = |cell: &str| -> Vec<String> { cell.split('`').skip(1).step_by(2).map(str::to_owned).collect() };
    let text = read_text(&root().join("ARCHITECTURE.md"));
    let table = text.lines().skip_while(|line| *line != "| crate | does | uses |").skip(2).take_while(|line| line.starts_with('|'));
    table
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
            let [name, _, uses] = cells.as_slice() else { panic!("a row of three cells: {line}") };
            (names(name).remove(0), names(uses))
        })
        .collect()
}

/// Key in the workspace's dependency table and folder of every member.
fn members() -> BTreeMap<String, String> {
    let text = read_text(&root().join("Cargo.toml"));
    let manifest: toml::Table = text.parse().expect("Cargo.toml is TOML");
    let dependencies = manifest["workspace"]["dependencies"].as_table().expect("a table");
    let mut members: BTreeMap<String, String> =
        dependencies.iter().filter_map(|(key, value)| Some((key.clone(), value.get("path")?.as_str()?.to_owned()))).collect();
    // Nobody depends on the trials, so the workspace's table does not name them.
    members.insert("trials".to_owned(), "crates/trials".to_owned());
    members
}

/// Members that a manifest depends on; for the trials also those of their tests.
fn used(folder: &str, members: &BTreeMap<String, String>) -> Vec<String> {
    let manifest: toml::Table = read_text(&root().join(folder).join("Cargo.toml")).parse().expect("a manifest is TOML");
    let sections: &[&str] = if folder == "crates/trials" { &["dependencies", "dev-dependencies"] } else { &["dependencies"] };
    let tables = sections.iter().filter_map(|section| manifest.get(*section)?.as_table());
    let keys = tables.flat_map(|table| table.keys()).filter(|key| members.contains_key(*key));
    keys.cloned().collect()
}

#[test]
fn crates_and_arrows_are_as_written() {
    let (written, members) = (written(), members());
    let mut listed: Vec<&String> = written.iter().map(|(name, _)| name).collect();
    listed.sort();
    assert_eq!(listed, members.keys().collect::<Vec<_>>(), "the crates of ARCHITECTURE.md and of Cargo.toml");
    for (row, (name, uses)) in written.iter().enumerate() {
        let mut stated = uses.clone();
        stated.sort();
        let mut real = used(&members[name], &members);
        real.sort();
        assert_eq!(stated, real, "arrows of {name}: left as written, right as in its manifest");
        let above: Vec<&String> = written[..row].iter().map(|(name, _)| name).collect();
        for other in uses {
            assert!(above.contains(&other), "{name} may not use {other}: an arrow points up");
        }
    }
    // Each folder under crates/ is a member that the table lists.
    for entry in std::fs::read_dir(root().join("crates")).expect("crates/ is there") {
        let name = entry.expect("an entry").file_name().into_string().expect("UTF-8");
        assert!(members.contains_key(&name), "crates/{name} is not in ARCHITECTURE.md");
    }
}

/// Rust sources below a folder.
fn sources(folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in std::fs::read_dir(folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display())) {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push((path.display().to_string(), read_text(&path)));
        }
    }
}

/// Modules of the standard library that reach outside, wherever a path or a `use std::{…}` names them.
fn reaches_outside(source: &str) -> Option<&'static str> {
    const OUTSIDE: [&str; 5] = ["fs", "env", "net", "time", "process"];
    let tight: String = source.chars().filter(|c| !c.is_whitespace()).collect();
    OUTSIDE.into_iter().find(|module| {
        let named = |text: &str, at: usize| {
            let rest = &text[at..];
            rest.starts_with(module) && !rest[module.len()..].starts_with(|c: char| c.is_alphanumeric() || c == '_')
        };
        tight.match_indices("std::").any(|(at, found)| {
            let after = at + found.len();
            match tight[after..].strip_prefix('{') {
                None => named(&tight, after),
                Some(list) => {
                    let list = &list[..list.find(';').unwrap_or(list.len())];
                    list.split([',', '{', '}']).any(|item| named(item, 0))
                }
            }
        })
    })
}

#[test]
fn only_the_edges_reach_outside() {
    let mut read = 0;
    for name in members().keys().filter(|name| !["cli", "xtask", "trials"].contains(&name.as_str())) {
        let mut found = Vec::new();
        sources(&root().join("crates").join(name).join("src"), &mut found);
        for (path, text) in found {
            assert_eq!(reaches_outside(&text), None, "{path} reaches outside the program");
            read += 1;
        }
    }
    assert!(read > 20, "only {read} sources were read");
}

#[test]
fn reaching_outside_is_seen_however_it_is_written() {
    for text in ["use std::fs;", "std::fs::read(x)", "use std::{fmt,\n  time::Instant};", "use std::{fmt, env};", "std :: process::exit(1)"]
    {
        assert!(reaches_outside(text).is_some(), "{text}");
    }
    for text in ["use std::fmt;", "env!(\"X\")", "use std::{fmt, sync::Arc}; let time = 1;", "std::environment"] {
        assert_eq!(reaches_outside(text), None, "{text}");
    }
}
