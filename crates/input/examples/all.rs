use std::path::Path;
fn main() {
    let dir = Path::new("crates/input/tests/broken");
    let mut paths: Vec<_> = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    for path in paths {
        let mut files = Vec::new();
        if path.is_dir() {
            collect(&path, "", &mut files)
        } else {
            let name = if path.extension().is_some_and(|e| e == "csv") { "wires.csv" } else { "vehicle.toml" };
            files.push((name.to_string(), std::fs::read(&path).unwrap()));
        }
        println!("=== {}", path.file_name().unwrap().to_str().unwrap());
        let l = loomwright_input::load(&files);
        for d in &l.diagnostics {
            for (n, p) in d.places.iter().enumerate() {
                let at = l.sources.position(p.at);
                let w = if n > 0 {
                    "place".to_string()
                } else {
                    format!("{}[{}]", if d.severity == model::Severity::Error { "error" } else { "warning" }, d.code.0)
                };
                println!("{}:{} {} {}..{} {}", at.path, at.line, w, at.column, at.end_column, if n == 0 { &d.message } else { &p.label });
            }
            println!(
                "        help: {} | {:?} | {}",
                d.help.as_deref().unwrap_or("-"),
                d.replacement.as_ref().map(|r| &r.1),
                d.places.first().map_or("", |p| &p.label)
            );
        }
    }
}
fn collect(dir: &Path, prefix: &str, files: &mut Vec<(String, Vec<u8>)>) {
    for entry in std::fs::read_dir(dir).unwrap().flatten() {
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            collect(&entry.path(), &format!("{name}/"), files)
        } else {
            files.push((name, std::fs::read(entry.path()).unwrap()))
        }
    }
}
