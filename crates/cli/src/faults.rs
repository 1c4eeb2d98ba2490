//! `faults` and `merge`: a sweep over single faults, whole, in parts, or gone on with.

use crate::commands::{path, text, today};
use crate::run::{Asks, exit_code, with_view};
use crate::session::{CLEAN, Failure, Session};
use crate::{folder, names, write};
use clap::ArgMatches;
use decide::{Names, PairScreen, Sweep};
use model::*;
use outputs::json::to_text;
use outputs::{Part, PartOf, Swept, View};
use rules::Case;
use std::path::{Path, PathBuf};

const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// Names of sources to a hash of them all: a part belongs to one state of the vehicle's files.
fn hash_of(folder: &Path) -> Result<String, Failure> {
    let mut all = Vec::new();
    for (name, bytes) in folder::read(folder)? {
        all.extend_from_slice(format!("{name} {}\n", bytes.len()).as_bytes());
        all.extend(bytes);
    }
    Ok(input::import::hash(&all))
}

/// `2/4`: the second of four parts.
fn shard(text: &str) -> Result<[usize; 2], Failure> {
    let parts = text.split_once('/').and_then(|(k, n)| Some([k.trim().parse().ok()?, n.trim().parse().ok()?]));
    match parts {
        Some([k, n]) if k >= 1 && k <= n => Ok([k, n]),
        _ => Err(Failure::Problem(format!("--shard {text}: write it as 2/4, the second of four parts"))),
    }
}

/// What is written, by the end of the file's name.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Csv,
    Workbook,
    Matrix,
    Lines,
}

/// What `-o` asks for, before anything is worked out: minutes of work must not end at a file's name.
fn wanted_file(session: &Session, args: &ArgMatches) -> Result<Option<(PathBuf, Kind)>, Failure> {
    let Some(file) = path(args, "output") else { return Ok(None) };
    let end = file.extension().map(|end| end.to_string_lossy().to_lowercase());
    let kind = match end.as_deref() {
        Some("csv") => Kind::Csv,
        Some("xlsx") => Kind::Workbook,
        Some("svg") => Kind::Matrix,
        Some("jsonl") => Kind::Lines,
        _ if file == Path::new("-") => Kind::Csv,
        _ => {
            let file = file.display();
            return Err(Failure::Problem(format!(
                "-o {file}: its end tells what is wanted: .csv, .xlsx (failure modes), .svg (matrix), .jsonl (lines)"
            )));
        }
    };
    write::is_free(session, &file, args.get_flag("force"))?;
    Ok(Some((file, kind)))
}

fn read_part(session: &Session, view: &View, ids: &[String], file: &Path) -> Result<Part, Failure> {
    let names = Names::new(view.design);
    let problem = |why: String| Failure::Problem(format!("{}: {why}", file.display()));
    let bytes = folder::read_one(&session.path(file))?;
    let text = String::from_utf8(bytes).map_err(|_| problem("it is no text in UTF-8".to_owned()))?;
    outputs::read_part(view.design, ids, &|name| names.one(name, |_| true), &text).map_err(problem)
}

/// `--corner`; the low one where nothing is said.
pub(crate) fn corner(args: &ArgMatches) -> Corner {
    let asked = text(args, "corner");
    asked.and_then(|asked| Corner::ALL.into_iter().find(|corner| corner.word() == asked)).unwrap_or(Corner::Low)
}

fn ids_of(view: &View, sweep: &Sweep) -> Vec<String> {
    sweep.catalogue().faults.iter().map(|fault| decide::fault_id(view.prepared, fault)).collect()
}

/// `faults`.
pub(crate) fn run(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let today = today(args)?;
    let only: Vec<String> = args.get_many::<String>("only").into_iter().flatten().cloned().collect();
    if args.get_flag("pairs") {
        return pairs(session, args, &only);
    }
    if args.get_flag("each") || args.contains_id("phase") {
        return Err(Failure::Problem("--each and --phase are of two faults at a time: give them with --pairs".to_owned()));
    }
    let part = text(args, "shard").map(|text| shard(&text)).transpose()?;
    let output = wanted_file(session, args)?;
    let known_from = path(args, "resume");
    if (part.is_some() || known_from.is_some()) && args.get_flag("list") {
        return Err(Failure::Problem("--list works out no fault: --shard and --resume have nothing to do with it".to_owned()));
    }
    if part.is_some() && !matches!(output, Some((_, Kind::Lines))) {
        return Err(Failure::Problem(
            "a part is judged once all are there: write it with -o FILE.jsonl, and put them together with `merge`".to_owned(),
        ));
    }
    let corner = corner(args);
    let vehicle = session.vehicle_folder(None);
    let design = hash_of(&vehicle)?;
    with_view(session, &vehicle, (Asks::USUAL, today.as_deref()), |session, view| {
        decide::with_sweep_in(view.prepared, view.points, view.verdict, corner, |sweep| {
            let ids = ids_of(view, sweep);
            let mut chosen = decide::choose(view.prepared, sweep.catalogue(), &ids, &only).map_err(Failure::Problem)?;
            if args.get_flag("list") {
                return list(session, view, sweep.catalogue(), &ids, &chosen);
            }
            let whole = chosen.iter().filter(|&&chosen| chosen).count();
            let [k, n] = part.unwrap_or([1, 1]);
            // Each part takes every n-th fault, so that all kinds are in each and it takes as long as the others.
            for (at, of) in chosen.iter_mut().filter(|of| **of).enumerate() {
                *of = at % n == k - 1;
            }
            let of = PartOf { design: &design, program: PROGRAM, only: &only, shard: [k, n], faults: whole, corner };
            let known = match &known_from {
                None => FaultTable::default(),
                Some(file) => {
                    let part = read_part(session, view, &ids, file)?;
                    part.is_of(&of).map_err(|why| Failure::Problem(format!("{}: {why}", file.display())))?;
                    part.table.rows.iter().for_each(|row| chosen[row.fault] = false);
                    FaultTable { partial: false, ..part.table }
                }
            };
            let mut table = sweep.run(|at| chosen[at], session.watch());
            if known_from.is_some() {
                table = sweep.whole(outputs::joined(known, table));
            }
            let wanted =
                Wanted { output: output.as_ref(), force: args.get_flag("force"), all: args.get_flag("all"), today: today.as_deref() };
            tell(session, view, (&table, &ids, &of), &wanted)
        })
    })
}

/// `faults --pairs`.
fn pairs(session: &mut Session, args: &ArgMatches, only: &[String]) -> Result<u8, Failure> {
    let today = today(args)?;
    if args.get_flag("list") || args.contains_id("shard") || args.contains_id("resume") {
        return Err(Failure::Problem(
            "pairs are worked out as a whole: --list, --shard and --resume are of single faults; --only and --phase part the work"
                .to_owned(),
        ));
    }
    let output = wanted_file(session, args)?;
    if output.as_ref().is_some_and(|(_, kind)| *kind != Kind::Lines) {
        return Err(Failure::Problem("pairs are written as lines: -o FILE.jsonl".to_owned()));
    }
    let phases: Vec<String> = args.get_many::<String>("phase").into_iter().flatten().cloned().collect();
    let screen = if args.get_flag("each") { PairScreen::Off } else { PairScreen::OneOfAlike };
    let corner = corner(args);
    let vehicle = session.vehicle_folder(None);
    with_view(session, &vehicle, (Asks::USUAL, today.as_deref()), |session, view| {
        let phases = phases.iter().map(|name| names::phase(view.design, name)).collect::<Result<Vec<_>, Failure>>()?;
        let phases = if phases.is_empty() { view.design.phases.ids().collect() } else { phases };
        decide::with_sweep_in(view.prepared, view.points, view.verdict, corner, |sweep| {
            let ids = ids_of(view, sweep);
            let chosen = decide::choose(view.prepared, sweep.catalogue(), &ids, only).map_err(Failure::Problem)?;
            let table = sweep.pairs(|at| chosen[at], &phases, screen, session.watch());
            let case = Case { design: view.design, prepared: view.prepared, today: today.as_deref() };
            let verdict = rules::judge_pairs(&case, &table);
            let paired = outputs::Paired { table: &table, ids: &ids, verdict: &verdict };
            match &output {
                Some((file, _)) => write::output(session, file, outputs::pair_lines(view, &paired).as_bytes(), args.get_flag("force"))?,
                None => {
                    let text = match session.json {
                        true => to_text(&outputs::pairs_json(view, &paired)),
                        false => outputs::pairs(view, &paired, args.get_flag("all"), session.style),
                    };
                    session.print(&text)?;
                }
            }
            if table.partial { Err(Failure::Stopped) } else { Ok(exit_code(&verdict, false)) }
        })
    })
}

/// `merge`.
pub(crate) fn merge(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let today = today(args)?;
    let files: Vec<String> = args.get_many::<String>("parts").into_iter().flatten().cloned().collect();
    let output = wanted_file(session, args)?;
    let vehicle = session.vehicle_folder(None);
    let design = hash_of(&vehicle)?;
    with_view(session, &vehicle, (Asks::USUAL, today.as_deref()), |session, view| {
        let ids: Vec<String> = view.prepared.catalogue().faults.iter().map(|fault| decide::fault_id(view.prepared, fault)).collect();
        let mut parts = Vec::new();
        for file in &files {
            parts.push((file.clone(), read_part(session, view, &ids, Path::new(file))?));
        }
        let corner = parts.first().and_then(|(_, part)| part.corner()).unwrap_or(Corner::Low);
        decide::with_sweep_in(view.prepared, view.points, view.verdict, corner, |sweep| {
            let only = parts.first().map_or_else(Vec::new, |(_, part)| part.only().to_vec());
            let chosen = decide::choose(view.prepared, sweep.catalogue(), &ids, &only).map_err(Failure::Problem)?;
            let faults = chosen.iter().filter(|&&chosen| chosen).count();
            let of = PartOf { design: &design, program: PROGRAM, only: &only, shard: [1, 1], faults, corner };
            let table = sweep.whole(outputs::merge_parts(parts, &of).map_err(Failure::Problem)?);
            let wanted =
                Wanted { output: output.as_ref(), force: args.get_flag("force"), all: args.get_flag("all"), today: today.as_deref() };
            tell(session, view, (&table, &ids, &of), &wanted)
        })
    })
}

/// How a sweep is to be told.
struct Wanted<'a> {
    output: Option<&'a (PathBuf, Kind)>,
    force: bool,
    all: bool,
    today: Option<&'a str>,
}

fn tell(session: &mut Session, view: &View, (table, ids, of): (&FaultTable, &[String], &PartOf), wanted: &Wanted) -> Result<u8, Failure> {
    let case = Case { design: view.design, prepared: view.prepared, today: wanted.today };
    let judged = rules::judge_sweep(&case, table);
    let opinion = decide::second_opinion(view.prepared, view.points, table);
    let swept = Swept { table, ids, verdict: &judged, opinion: &opinion };
    match wanted.output {
        None => {
            let text = match session.json {
                true => to_text(&outputs::faults_json(view, &swept)),
                false => outputs::faults(view, &swept, wanted.all, session.style),
            };
            session.print(&text)?;
        }
        Some((file, kind)) => {
            let bytes = match kind {
                Kind::Csv => outputs::fault_modes_csv(view, &swept).into_bytes(),
                Kind::Workbook => outputs::fault_modes_workbook(view, &swept).map_err(Failure::Output)?,
                Kind::Matrix => outputs::fault_matrix_svg(view, &swept).into_bytes(),
                Kind::Lines => outputs::fault_lines(view, &swept, of).into_bytes(),
            };
            write::output(session, file, &bytes, wanted.force)?;
        }
    }
    match table.partial {
        true => Err(Failure::Stopped),
        false if of.shard[1] > 1 => Ok(CLEAN),
        false => Ok(exit_code(&judged, false)),
    }
}

fn list(session: &mut Session, view: &View, catalogue: &Catalogue, ids: &[String], chosen: &[bool]) -> Result<u8, Failure> {
    let (mut list, mut some) = (Catalogue { lacking: catalogue.lacking.clone(), ..Catalogue::default() }, Vec::new());
    for at in (0..ids.len()).filter(|&at| chosen[at]) {
        list.faults.push(catalogue.faults[at]);
        some.push(ids[at].clone());
    }
    let text = match session.json {
        true => to_text(&outputs::fault_list_json(view, &list, &some)),
        false => outputs::fault_list(view, &list, &some, session.style) + "\n" + &outputs::fault_kinds(&list, session.style),
    };
    session.print(&text)?;
    Ok(CLEAN)
}
