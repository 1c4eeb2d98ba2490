//! The sweep over single faults as lines of JSON: a head, a line for each fault, an end. Parts of a sweep (`--shard`), and one that was stopped, are read back and
//! put together to what the whole would be.
//!
//! Names stand for rows, so that a line means something without the program. Numbers are written with all their digits and read back to the same value
//! (`float_roundtrip` of `serde_json`). What is simply kept and told of by nothing is left out of a line.

use crate::faults::{BurstsRow, reason_words};
use crate::{Swept, View};
use model::*;
use physics::{Second, Volt};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};

/// The version of these lines.
const FORMAT: &str = "loomwright/faults/1";

/// Missing parts that are named.
const MISSING: usize = 10;

/// What a part is of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Head {
    format: String,
    command: String,
    vehicle: String,
    /// Hash of the folder's files.
    design: String,
    /// The version of the program.
    program: String,
    /// What was asked for with `--only`.
    only: Vec<String>,
    /// This part, and of how many.
    shard: [usize; 2],
    /// Faults of the whole.
    faults: usize,
    corner: String,
    phases: Vec<String>,
}

#[derive(Serialize, Deserialize)]
struct Line {
    fault: String,
    kind: String,
    item: String,
    phases: Vec<CaseLine>,
}

#[derive(Serialize, Deserialize)]
struct CaseLine {
    phase: String,
    announced: String,
    monitor: Option<String>,
    moved: Option<f64>,
    threshold: Option<f64>,
    opens: Vec<OpensLine>,
    burns_on: bool,
    functions: Vec<EffectLine>,
}

#[derive(Serialize, Deserialize)]
struct OpensLine {
    device: String,
    earliest_s: Option<f64>,
    latest_s: Option<f64>,
}

#[derive(Serialize, Deserialize)]
struct EffectLine {
    function: String,
    effect: String,
    reason: String,
    why: Why,
    intermittent: Option<BurstsRow>,
}

/// The reason of an effect, so that it can be read back.
#[derive(Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
enum Why {
    Works,
    Without {
        subject: String,
    },
    /// The way of this leaf of the function's need.
    Cut {
        leaf: usize,
    },
    Outside {
        subject: String,
        value: f64,
        limit: f64,
    },
    LetGo {
        load: String,
        volts: f64,
    },
    Action {
        action: String,
    },
    Next {
        element: String,
    },
    Unsettled {
        subject: String,
    },
}

#[derive(Serialize, Deserialize)]
struct End {
    end: bool,
    /// Stopped before its end.
    partial: bool,
    unchanged: usize,
    states: usize,
    afresh: BTreeMap<String, usize>,
    lacking: Vec<LackingLine>,
}

#[derive(Serialize, Deserialize)]
struct LackingLine {
    subject: String,
    missing: String,
}

/// A part of a sweep, read back.
#[derive(Clone, Debug)]
pub struct Part {
    head: Head,
    /// Its rows and counts; of the catalogue nothing.
    pub table: FaultTable,
}

/// Identifies what a part is of.
pub struct PartOf<'a> {
    /// Hash of the folder's files.
    pub design: &'a str,
    /// The version of the program.
    pub program: &'a str,
    /// What was asked for with `--only`.
    pub only: &'a [String],
    /// This part, from one, and of how many.
    pub shard: [usize; 2],
    /// Faults of the whole.
    pub faults: usize,
    /// The corner.
    pub corner: Corner,
}

/// A sweep, or a part of one, as lines of JSON.
pub fn fault_lines(view: &View, swept: &Swept, of: &PartOf) -> String {
    let (design, table) = (view.design, swept.table);
    let mut text = String::new();
    let mut say = |line: Result<String, serde_json::Error>| {
        text += &line.expect("plain structs of texts and finite numbers have a JSON form");
        text.push('\n');
    };
    say(serde_json::to_string(&Head {
        format: FORMAT.to_owned(),
        command: "faults".to_owned(),
        vehicle: design.name.to_string(),
        design: of.design.to_owned(),
        program: of.program.to_owned(),
        only: of.only.to_vec(),
        shard: of.shard,
        faults: of.faults,
        corner: of.corner.word().to_owned(),
        phases: view.phase_names(),
    }));
    for row in &table.rows {
        let fault = &table.catalogue.faults[row.fault];
        let matters = |case: &&PhaseCase| {
            case.announced != Announced::Latent || !case.functions.is_empty() || !case.opens.is_empty() || case.burns_on
        };
        say(serde_json::to_string(&Line {
            fault: swept.ids[row.fault].clone(),
            kind: fault.kind.word().to_owned(),
            item: design.subject_words(fault.item),
            phases: row.phases.iter().filter(matters).map(|case| case_line(view, case)).collect(),
        }));
    }
    say(serde_json::to_string(&End {
        end: true,
        partial: table.partial,
        unchanged: table.unchanged,
        states: table.states,
        afresh: table.afresh.iter().map(|&(why, n)| (why.to_owned(), n)).collect(),
        lacking: table
            .lacking
            .iter()
            .map(|&(subject, missing)| LackingLine { subject: design.subject_words(subject), missing: missing.to_owned() })
            .collect(),
    }));
    text
}

fn case_line(view: &View, case: &PhaseCase) -> CaseLine {
    let design = view.design;
    let (monitor, alarm) = match case.announced {
        Announced::By(monitor, alarm) => (Some(monitor), Some(alarm)),
        Announced::OnGround(monitor) => (Some(monitor), None),
        Announced::Latent => (None, None),
    };
    let finite = |t: Second| Some(t.0).filter(|t| t.is_finite());
    CaseLine {
        phase: design.phases[case.phase].name.to_string(),
        announced: case.announced.word().to_owned(),
        monitor: monitor.map(|id| design.monitors[id].name.to_string()),
        moved: alarm.map(|alarm| alarm.by),
        threshold: alarm.map(|alarm| alarm.threshold),
        opens: case
            .opens
            .iter()
            .map(|&(device, earliest, latest)| OpensLine {
                device: design.element_words(ElementId::Protector(device)),
                earliest_s: finite(earliest),
                latest_s: finite(latest),
            })
            .collect(),
        burns_on: case.burns_on,
        functions: case
            .functions
            .iter()
            .map(|of| EffectLine {
                function: design.functions[of.function].name.to_string(),
                effect: of.effect.word().to_owned(),
                reason: reason_words(view, of),
                why: why(design, of),
                intermittent: of.intermittent.map(|bursts| BurstsRow::new(design, &bursts)),
            })
            .collect(),
    }
}

fn why(design: &Design, of: &FunctionCase) -> Why {
    let words = |subject| design.subject_words(subject);
    match of.reason {
        Reason::Works => Why::Works,
        Reason::Without(subject) => Why::Without { subject: words(subject) },
        Reason::Cut(from, to) => {
            let leaves = design.functions[of.function].need.leaves();
            let leaf = leaves.iter().position(|need| matches!(need, Need::Path(ends) if ends.value == [from, to]));
            Why::Cut { leaf: leaf.expect("a way that is cut is one that the function needs") }
        }
        Reason::Outside(subject, value, limit) => Why::Outside { subject: words(subject), value, limit },
        Reason::LetGo(load, volts) => Why::LetGo { load: design.element_words(ElementId::Load(load)), volts: volts.0 },
        Reason::Action(action) => Why::Action { action: design.actions[action].name.to_string() },
        Reason::Next(element) => Why::Next { element: design.element_words(element) },
        Reason::Unsettled(subject) => Why::Unsettled { subject: words(subject) },
    }
}

/// Reads a part back. `ids`: those of the catalogue; `named`: what a name stands for.
///
/// # Errors  In a sentence, with the line: what is not understood, or is of another vehicle.
pub fn read_part(design: &Design, ids: &[String], named: &dyn Fn(&str) -> Result<Subject, String>, text: &str) -> Result<Part, String> {
    let mut lines = text.lines().enumerate().map(|(at, line)| (at + 1, line)).filter(|(_, line)| !line.trim().is_empty());
    let first = lines.next().ok_or("it is empty: lines of `faults -o FILE.jsonl` are expected")?;
    let head: Head = parsed(first)?;
    if head.format != FORMAT || head.command != "faults" {
        return Err(format!("line 1: its format is {:?} of {:?}, and {FORMAT:?} of \"faults\" is expected", head.format, head.command));
    }
    let [k, n] = head.shard;
    if k == 0 || k > n {
        return Err(format!("line 1: it is part {k} of {n}"));
    }
    let row_of: HashMap<&str, usize> = ids.iter().enumerate().map(|(at, id)| (id.as_str(), at)).collect();
    let reader = Reader::new(design, named);
    let mut table = FaultTable::default();
    for (at, line) in lines.by_ref() {
        if line.starts_with("{\"end\"") {
            let end: End = parsed((at, line))?;
            table.partial = end.partial;
            table.unchanged = end.unchanged;
            table.states = end.states;
            for (words, n) in end.afresh {
                let word = FaultTable::AFRESH.into_iter().find(|word| *word == words);
                table.afresh.push((word.ok_or_else(|| format!("line {at}: {words:?} is no reason for a state of its own"))?, n));
            }
            for row in end.lacking {
                let field = FaultTable::FIELDS.into_iter().find(|field| *field == row.missing);
                let field = field.ok_or_else(|| format!("line {at}: {:?} is no field that a sweep asks for", row.missing))?;
                table.lacking.push((named(&row.subject).map_err(|why| format!("line {at}: {why}"))?, field));
            }
            if let Some((at, _)) = lines.next() {
                return Err(format!("line {at}: something stands behind the end"));
            }
            return Ok(Part { head, table });
        }
        let row: Line = parsed((at, line))?;
        let fault = row_of.get(row.fault.as_str()).ok_or_else(|| format!("line {at}: the vehicle has no fault {}", row.fault))?;
        let row = reader.row(*fault, &row).map_err(|why| format!("line {at}: {why}"))?;
        if table.rows.last().is_some_and(|last| last.fault >= row.fault) {
            return Err(format!("line {at}: {} stands twice or out of order", ids[row.fault]));
        }
        table.rows.push(row);
    }
    Err("its end is missing: it was cut off while it was written".to_owned())
}

fn parsed<'l, T: Deserialize<'l>>((at, line): (usize, &'l str)) -> Result<T, String> {
    serde_json::from_str(line).map_err(|error| format!("line {at}: {error}"))
}

/// Names of a vehicle.
struct Reader<'a> {
    design: &'a Design,
    named: &'a dyn Fn(&str) -> Result<Subject, String>,
    phases: HashMap<String, Id<Phase>>,
    functions: HashMap<String, Id<Function>>,
    monitors: HashMap<String, Id<Monitor>>,
    actions: HashMap<String, Id<Action>>,
}

fn known<T: Copy>(names: &HashMap<String, T>, kind: &str, name: &str) -> Result<T, String> {
    names.get(name).copied().ok_or_else(|| format!("the vehicle has no {kind} {name}"))
}

impl<'a> Reader<'a> {
    fn new(design: &'a Design, named: &'a dyn Fn(&str) -> Result<Subject, String>) -> Reader<'a> {
        Reader {
            design,
            named,
            phases: design.phases.iter().map(|(id, row)| (row.name.to_string(), id)).collect(),
            functions: design.functions.iter().map(|(id, row)| (row.name.to_string(), id)).collect(),
            monitors: design.monitors.iter().map(|(id, row)| (row.name.to_string(), id)).collect(),
            actions: design.actions.iter().map(|(id, row)| (row.name.to_string(), id)).collect(),
        }
    }

    fn row(&self, fault: usize, line: &Line) -> Result<FaultRow, String> {
        let silent = |phase| PhaseCase { phase, announced: Announced::Latent, opens: Vec::new(), burns_on: false, functions: Vec::new() };
        let mut row = FaultRow { fault, phases: self.design.phases.ids().map(silent).collect() };
        for case in &line.phases {
            let phase = known(&self.phases, "phase", &case.phase)?;
            row.phases[phase.row()] = self.case(phase, case)?;
        }
        Ok(row)
    }

    fn case(&self, phase: Id<Phase>, line: &CaseLine) -> Result<PhaseCase, String> {
        let monitor = line.monitor.as_ref().map(|name| known(&self.monitors, "monitor", name)).transpose()?;
        let alarm = line.moved.zip(line.threshold).map(|(by, threshold)| Alarm { by, threshold });
        let announced = match (line.announced.as_str(), monitor, alarm) {
            ("announced", Some(monitor), Some(alarm)) => Announced::By(monitor, alarm),
            ("ground-test", Some(monitor), None) => Announced::OnGround(monitor),
            ("latent", None, None) => Announced::Latent,
            (words, ..) => return Err(format!("{words:?} does not go with its monitor and how far that moves")),
        };
        let seconds = |t: Option<f64>| Second(t.unwrap_or(f64::INFINITY));
        let opens = line.opens.iter().map(|row| match (self.named)(&row.device)? {
            Subject::Element(ElementId::Protector(id)) => Ok((id, seconds(row.earliest_s), seconds(row.latest_s))),
            _ => Err(format!("{} is no breaker, fuse or limiter", row.device)),
        });
        let opens = opens.collect::<Result<Vec<_>, String>>()?;
        let functions = line.functions.iter().map(|row| self.function(row)).collect::<Result<Vec<_>, String>>()?;
        Ok(PhaseCase { phase, announced, opens, burns_on: line.burns_on, functions })
    }

    fn function(&self, line: &EffectLine) -> Result<FunctionCase, String> {
        let function = known(&self.functions, "function", &line.function)?;
        let effect = effect_of(&line.effect)?;
        let element = |name: &str| match (self.named)(name)? {
            Subject::Element(element) => Ok(element),
            _ => Err(format!("{name} is no element")),
        };
        let reason = match &line.why {
            Why::Works => Reason::Works,
            Why::Without { subject } => Reason::Without((self.named)(subject)?),
            Why::Cut { leaf } => match self.design.functions[function].need.leaves().get(*leaf) {
                Some(Need::Path(Given { value: [from, to], .. })) => Reason::Cut(*from, *to),
                _ => return Err(format!("what function {} needs has no way at place {leaf}", line.function)),
            },
            Why::Outside { subject, value, limit } => Reason::Outside((self.named)(subject)?, *value, *limit),
            Why::LetGo { load, volts } => match element(load)? {
                ElementId::Load(id) => Reason::LetGo(id, Volt(*volts)),
                _ => return Err(format!("{load} is no load")),
            },
            Why::Action { action } => Reason::Action(known(&self.actions, "action", action)?),
            Why::Next { element: name } => Reason::Next(element(name)?),
            Why::Unsettled { subject } => Reason::Unsettled((self.named)(subject)?),
        };
        let intermittent = line.intermittent.as_ref().map(|row| self.bursts(row)).transpose()?;
        Ok(FunctionCase { function, effect, reason, intermittent })
    }

    fn bursts(&self, row: &BurstsRow) -> Result<Bursts, String> {
        let Subject::Element(ElementId::Load(load)) = (self.named)(&row.load)? else { return Err(format!("{} is no load", row.load)) };
        Ok(Bursts { load, effect: effect_of(&row.effect)?, count: row.bursts, each: Second(row.burst_s) })
    }
}

fn effect_of(word: &str) -> Result<Effect, String> {
    Effect::ALL.into_iter().find(|effect| effect.word() == word).ok_or_else(|| format!("{word:?} is no effect"))
}

impl Part {
    /// Whether it is of what is asked for, in a sentence where it is not.
    ///
    /// # Errors  What differs.
    pub fn is_of(&self, of: &PartOf) -> Result<(), String> {
        let head = &self.head;
        let same = [
            (head.design != of.design, "it is of another state of the vehicle's files: faults have to be worked out anew"),
            (head.program != of.program, "it was written by another version of the program"),
            (head.only != of.only, "it was asked for other faults (--only)"),
            (head.shard != of.shard, "it is another part (--shard)"),
            (head.corner != of.corner.word(), "it is of another corner (--corner)"),
            (head.faults != of.faults, "it is of another catalogue of faults"),
        ];
        same.into_iter().find(|(differs, _)| *differs).map_or(Ok(()), |(_, why)| Err(why.to_owned()))
    }

    /// Its corner, if it is one.
    pub fn corner(&self) -> Option<Corner> {
        Corner::ALL.into_iter().find(|corner| corner.word() == self.head.corner)
    }

    /// What was asked for with `--only`.
    pub fn only(&self) -> &[String] {
        &self.head.only
    }
}

/// Puts parts together, in the order of the catalogue. `names`: of the files, for messages; `of`: what the whole is of, its shard left out of account.
///
/// # Errors  In a sentence: parts of something else, one that is missing, there twice or was stopped.
pub fn merge_parts(parts: Vec<(String, Part)>, of: &PartOf) -> Result<FaultTable, String> {
    let Some((first, of_parts)) = parts.first().map(|(name, part)| (name.clone(), part.head.shard[1])) else {
        return Err("no part is given".to_owned());
    };
    // By part, whatever count a file states.
    let mut there: BTreeMap<usize, String> = BTreeMap::new();
    let mut whole = FaultTable::default();
    for (name, part) in parts {
        let [k, n] = part.head.shard;
        part.is_of(&PartOf { shard: part.head.shard, ..*of }).map_err(|why| format!("{name}: {why}"))?;
        if n != of_parts {
            return Err(format!("{name} is a part of {n}, and {first} one of {of_parts}"));
        }
        if part.table.partial {
            return Err(format!("{name} was stopped before its end: --resume goes on with it"));
        }
        if let Some(other) = there.insert(k, name.clone()) {
            return Err(format!("{name} and {other} are both part {k} of {n}"));
        }
        whole = joined(whole, part.table);
    }
    let lacking = of_parts - there.len();
    if lacking > 0 {
        let mut missing: Vec<String> = (1..=of_parts).filter(|k| !there.contains_key(k)).take(MISSING).map(|k| k.to_string()).collect();
        missing.extend((lacking > MISSING).then(|| format!("{} more", lacking - MISSING)));
        return Err(format!("of {of_parts} parts these are missing: {}", missing.join(", ")));
    }
    if whole.rows.len() != of.faults {
        return Err(format!("together they have {} faults of {}", whole.rows.len(), of.faults));
    }
    Ok(whole)
}

/// Rows and counts of two parts together.
pub fn joined(mut a: FaultTable, b: FaultTable) -> FaultTable {
    a.rows.extend(b.rows);
    a.rows.sort_by_key(|row| row.fault);
    a.unchanged += b.unchanged;
    a.states += b.states;
    for (why, n) in b.afresh {
        match a.afresh.iter_mut().find(|(known, _)| *known == why) {
            Some((_, known)) => *known += n,
            None => a.afresh.push((why, n)),
        }
    }
    let place = |why: &str| FaultTable::AFRESH.iter().position(|known| *known == why);
    a.afresh.sort_by_key(|(why, _)| place(why));
    a.lacking.extend(b.lacking);
    a.lacking.sort_unstable();
    a.lacking.dedup();
    a.partial |= b.partial;
    a
}
