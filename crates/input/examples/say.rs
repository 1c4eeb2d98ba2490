//! Prints what the reader says about a folder: `cargo run -p loomwright-input --example say -- DIR`.
use std::path::Path;

fn main() {
    let mut files = Vec::new();
    let root = std::env::args().nth(1).unwrap_or_default();
    collect(Path::new(&root), "", &mut files);
    let start = std::time::Instant::now();
    let loaded = loomwright_input::load(&files);
    eprintln!("{:?}", start.elapsed());
    for d in loaded.diagnostics.iter().take(60) {
        println!("{:?} {} {}", d.severity, d.code.0, d.message);
        for p in &d.places {
            let at = loaded.sources.position(p.at);
            println!("   {}:{}:{}-{} {}", at.path, at.line, at.column, at.end_column, p.label);
        }
        println!("   help {:?} {:?}", d.help, d.replacement.as_ref().map(|r| &r.1));
    }
    if let Some(d) = &loaded.design {
        println!(
            "wires {} pins {} contacts {} connectors {} notes {}",
            d.wires.len(),
            d.pins.len(),
            d.contacts.len(),
            d.connectors.len(),
            d.notes.len()
        );
        for n in d.notes.iter().take(60) {
            println!(
                "  {} {} = {} ({}) {:?} {}",
                n.standing.word(),
                n.what,
                n.value,
                n.source,
                n.subject.map(|s| d.subject_words(s)),
                n.field
            );
        }
    }
}

fn collect(dir: &Path, prefix: &str, files: &mut Vec<(String, Vec<u8>)>) {
    let Ok(entries) = std::fs::read_dir(dir) else { return };
    for entry in entries.flatten() {
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            collect(&entry.path(), &format!("{name}/"), files);
        } else if let Ok(bytes) = std::fs::read(entry.path()) {
            files.push((name, bytes));
        }
    }
}
