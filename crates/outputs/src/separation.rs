//! `separate`: what a separation comes to, a page an event: when what happens, the worst partial states, orders of contacts, what is left afterwards.

use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde_json::{Value, json};

/// Rows of a table and findings of a rule unless all are asked for.
const FIRST: usize = 5;

/// What was followed, and its judgement.
pub struct Separated<'a> {
    /// The table.
    pub table: &'a SeparationTable,
    /// Findings, margins, and what could not be judged.
    pub verdict: &'a Verdict,
    /// The id of a fault: the words that `whatif` takes.
    pub fault_id: &'a dyn Fn(&Fault) -> String,
}

/// What a caution says of separations and ordnance beside the usual ones.
const CAUTION: &str = "separation and ordnance can hurt and kill: range safety and certified procedures govern the work, with shorting and safe plugs as they say; no \
                       device is dead before it has been measured dead by an approved instrument";

fn seconds(spread: &Spread<physics::Second>) -> String {
    let [low, high] = [spread.low.value.0, spread.high.value.0];
    if low == high { number::with_unit(low, "s") } else { format!("{} to {}", number::with_unit(low, "s"), number::with_unit(high, "s")) }
}

fn act_words(view: &View, act: &Act) -> String {
    let design = view.design;
    match act {
        Act::Command(states) => {
            let words = |wanted: Commanded, device: bool| -> Vec<String> {
                let is_device = |element: &ElementId| matches!(element, ElementId::Switch(_) | ElementId::Protector(_));
                let own =
                    states.iter().map(|given| given.value).filter(|(element, state)| *state == wanted && is_device(element) == device);
                own.map(|(element, _)| design.element_words(element)).collect()
            };
            let parts = [
                ("closes", Commanded::On, true),
                ("opens", Commanded::Off, true),
                ("on", Commanded::On, false),
                ("off", Commanded::Off, false),
            ];
            let parts = parts.into_iter().filter_map(|(word, state, device)| {
                let list = words(state, device);
                (!list.is_empty()).then(|| format!("{word} {}", list.join(", ")))
            });
            parts.collect::<Vec<_>>().join("; ")
        }
        Act::Release(contacts) => {
            let mut halves: Vec<Id<Connector>> =
                contacts.iter().map(|part| design.pins[design.contacts[part.contact].a].connector).collect();
            halves.dedup();
            let names: Vec<&str> = halves.iter().map(|id| &*design.connectors[*id].name).collect();
            let turns = |turn: Turn, word: &str| match contacts.iter().filter(|part| part.turn == turn).count() {
                0 => String::new(),
                n => format!(", {n} of them {word}"),
            };
            format!(
                "parts {}: {}{}{}",
                names.join(", "),
                number::counted(contacts.len(), "contact"),
                turns(Turn::First, "first"),
                turns(Turn::Last, "last")
            )
        }
        Act::Cut(segments) => {
            let names: Vec<&str> = segments.iter().map(|given| &*design.segments[given.value].name).collect();
            format!("cuts {}", names.join(", "))
        }
    }
}

fn variant_words(view: &View, event: &SeparationResult, variant: &Variant) -> String {
    let row = &view.design.separations[event.separation];
    match variant {
        Variant::Planned => "as planned".to_owned(),
        Variant::Late(steps) => {
            let names: Vec<&str> = steps.iter().map(|&at| &*row.steps[at].name).collect();
            format!("{} not done yet", names.join(" and "))
        }
        Variant::After(step) => format!("after {}", row.steps[*step].name),
        Variant::Stuck(element) => format!("{} stuck", view.design.element_words(*element)),
        Variant::Floats(input, state) => format!("input {} taken for {}", view.design.command_inputs[*input].name, state.word()),
    }
}

fn target_words(view: &View, target: Target) -> (&'static str, String, &'static str) {
    let design = view.design;
    match target {
        Target::Current(id) => ("current", design.element_words(ElementId::Contact(id)), "A"),
        Target::Alone(id) => ("without own return", design.element_words(ElementId::Contact(id)), "A"),
        Target::Shift(id) => ("reference shift", design.element_words(ElementId::Load(id)), "V"),
        Target::Volts(id) => ("least voltage", design.element_words(ElementId::Load(id)), "V"),
        Target::Charges(id) => ("reverse feed", design.element_words(ElementId::Source(id)), "A"),
    }
}

fn role_word(role: ContactRole) -> &'static str {
    match role {
        ContactRole::Feed => "feed",
        ContactRole::Return => "return",
        ContactRole::Signal => "signal",
        ContactRole::NotKnown => "not-known",
    }
}

fn searched_word(searched: Searched) -> &'static str {
    match searched {
        Searched::Settled => "settled",
        Searched::Linear => "linear",
        Searched::Bounded => "bounded",
    }
}

/// Everything as text.
pub fn separate(view: &View, followed: &Separated, all: bool, style: Style) -> String {
    let mut text = String::new();
    if followed.table.events.is_empty() {
        text.push_str("no separation is declared: [separation.X] and [step.Y] say what parts when\n\n");
    }
    for event in &followed.table.events {
        text.push_str(&page(view, event, all, style));
        text.push('\n');
    }
    text.push_str(&ordnance(view, followed, all, style));
    if followed.table.partial {
        text.push_str(&format!("{}: stopped before its end\n", style.bad("partial")));
    }
    text.push_str(&findings(view, followed, all, style));
    let missing = not_judged(view, followed);
    if !missing.is_empty() {
        let shown = if all { missing.len() } else { missing.len().min(FIRST) };
        let more = if missing.len() > shown { format!(", … and {} more", missing.len() - shown) } else { String::new() };
        text.push_str(&crate::explain::wrap_under("not judged: ", &(missing[..shown].join("; ") + &more)));
    }
    text.push_str(&format!("{}\n", style.strong(&verdict_line(followed))));
    for caution in crate::cautions(view.design).iter().map(String::as_str).chain([CAUTION]) {
        text.push_str(&crate::explain::wrap("caution", caution, style));
    }
    text + "why?     loomwright explain SP-01 · loomwright whatif --phase P --open contact:X.1\n"
}

/// Initiators: the greatest stray current of each, and what removes each inhibit.
fn ordnance(view: &View, followed: &Separated, all: bool, style: Style) -> String {
    let (design, table) = (view.design, followed.table);
    if table.stray.is_empty() && table.hazards.is_empty() {
        return String::new();
    }
    let mut text = format!("{}\n", style.strong("initiators that are not commanded"));
    let mut grid = Grid::new(&["initiator", "phase", ">without fault", ">with the worst", "which", ">states"]);
    for (id, initiator) in design.initiators.iter() {
        let own: Vec<&Stray> = table.stray.iter().filter(|row| row.initiator == id).collect();
        let worst = own.iter().copied().reduce(|known, new| if new.current > known.current { new } else { known });
        let shown: Vec<&Stray> = if all { own.clone() } else { worst.into_iter().collect() };
        for row in shown {
            grid.row(vec![
                initiator.name.to_string(),
                design.phases[row.phase].name.to_string(),
                number::with_prefix(row.without, "A"),
                number::with_prefix(row.current, "A"),
                row.fault.as_ref().map_or(String::new(), |fault| (followed.fault_id)(fault)),
                number::count(own.iter().map(|row| row.states).sum()),
            ]);
        }
    }
    text.push_str(&grid.render(style));
    text.push('\n');
    let mut grid = Grid::new(&["hazard", "initiator", "phase", "inhibit", ">faults that remove it", "the first"]);
    for hazard in &table.hazards {
        let initiator = &design.initiators[hazard.initiator];
        for (at, (element, faults)) in hazard.inhibits.iter().enumerate() {
            let first = |words: String| if at == 0 { words } else { String::new() };
            grid.row(vec![
                first(initiator.hazard.clone()),
                first(initiator.name.to_string()),
                first(design.phases[hazard.phase].name.to_string()),
                design.element_words(*element),
                number::count(faults.len()),
                faults.first().map_or(String::new(), |fault| (followed.fault_id)(fault)),
            ]);
        }
        for (name, list) in &hazard.drives {
            let names: Vec<String> = list.iter().map(|element| design.element_words(*element)).collect();
            grid.row(vec![
                String::new(),
                String::new(),
                String::new(),
                names.join(" and "),
                "together".to_owned(),
                format!("drive {name}"),
            ]);
        }
        for (fault, left) in &hazard.shared {
            let words = format!("all but {left}");
            grid.row(vec![String::new(), String::new(), String::new(), words, "together".to_owned(), (followed.fault_id)(fault)]);
        }
    }
    text + &grid.render(style) + "\n"
}

fn not_judged(view: &View, followed: &Separated) -> Vec<String> {
    let row =
        |row: &NotJudged| format!("{} {} for want of {}: {}", row.rule.0, view.design.subject_words(row.subject), row.missing, row.why);
    followed.verdict.not_judged.iter().map(row).collect()
}

fn verdict_line(followed: &Separated) -> String {
    let verdict = followed.verdict;
    let accepted = verdict.findings.iter().filter(|finding| matches!(finding.state, FindingState::Accepted(_))).count();
    let accepted = if accepted > 0 { format!(" ({accepted} accepted)") } else { String::new() };
    let found = match verdict.findings.len() {
        0 => "no findings".to_owned(),
        n => number::counted(n, "finding"),
    };
    let judged: usize = verdict.counted.iter().map(|row| row.subjects).sum();
    format!("{found}{accepted}, {} judged, {} not judged", number::counted(judged, "subject"), verdict.not_judged.len())
}

fn page(view: &View, event: &SeparationResult, all: bool, style: Style) -> String {
    let design = view.design;
    let row = &design.separations[event.separation];
    let of_role = |role: ContactRole| event.contacts.iter().filter(|(_, own)| *own == role).count();
    let roles = [ContactRole::Feed, ContactRole::Return, ContactRole::Signal, ContactRole::NotKnown];
    let roles: Vec<String> =
        roles.into_iter().filter(|role| of_role(*role) > 0).map(|role| format!("{} {}", of_role(role), role_word(role))).collect();
    let title = if row.title.is_empty() { String::new() } else { format!(": {}", row.title) };
    let head = format!("separation {}{title}", row.name);
    let mut text = format!(
        "{}\nphase {}, {} part: {}\n\n",
        style.strong(&head),
        design.phases[row.phase.value].name,
        number::counted(event.contacts.len(), "contact"),
        roles.join(", ")
    );
    let mut grid = Grid::new(&["when", "step", "what", "by"]);
    let mut order: Vec<usize> = (0..row.steps.len()).collect();
    order.sort_by(|&a, &b| row.steps[a].time.typical.value.0.total_cmp(&row.steps[b].time.typical.value.0).then(a.cmp(&b)));
    for at in order {
        let step = &row.steps[at];
        let by = match (step.by, event.commands.iter().find(|commands| commands.step == at).and_then(|commands| commands.by_fed)) {
            (Some(by), Some(false)) => format!("{}, without power then", design.loads[by.value].name),
            (Some(by), _) => design.loads[by.value].name.to_string(),
            (None, _) => String::new(),
        };
        grid.row(vec![seconds(&step.time), step.name.to_string(), act_words(view, &step.act), by]);
    }
    text.push_str(&grid.render(style));
    text.push('\n');
    let mut grid = Grid::new(&["devices", "corner", ">on loops", ">carry nothing", ">states", ">excluded", "how"]);
    let is_stuck = |search: &&VariantSearch| matches!(search.variant, Variant::Stuck(_));
    for search in event.searches.iter().filter(|search| all || !is_stuck(search)) {
        grid.row(vec![
            variant_words(view, event, &search.variant),
            search.corner.word().to_owned(),
            number::count(search.on_loops.len()),
            number::count(search.left_out),
            number::count(search.examined),
            if search.excluded > 0 { number::count(search.excluded) } else { String::new() },
            searched_word(search.searched).to_owned(),
        ]);
    }
    text.push_str(&grid.render(style));
    let stuck = event.searches.iter().filter(is_stuck);
    let (searches, states) = stuck.clone().fold((0, 0), |(n, states), search| (n + 1, states + search.examined));
    if searches > 0 && !all {
        text.push_str(&format!(
            "{} stuck, one at a time: {} states more\n",
            number::counted(searches / 2, "device"),
            number::count(states)
        ));
    }
    text.push('\n');
    text.push_str(&worst_states(view, event, all, style));
    text.push_str(&orders(view, event, style));
    text.push_str(&afterwards(view, event, all));
    text
}

fn worst_states(view: &View, event: &SeparationResult, all: bool, style: Style) -> String {
    let mut grid = Grid::new(&["worst of", "what", ">value", ">all mated", "devices", "corner", "parted"]);
    for list in [&event.worst, &event.stuck] {
        for kind in 0..5 {
            let own = |worst: &&PartialWorst| match worst.target {
                Target::Current(_) => kind == 0,
                Target::Alone(_) => kind == 1,
                Target::Shift(_) => kind == 2,
                Target::Volts(_) => kind == 3,
                Target::Charges(_) => kind == 4,
            };
            // Of a device that sticks only what it makes worse.
            let adds = |worst: &&PartialWorst| {
                let planned = event.worst.iter().find(|known| known.target == worst.target).filter(|known| !std::ptr::eq(*known, *worst));
                all || planned.is_none_or(|known| match kind {
                    3 => worst.value < 0.99 * known.value,
                    _ => worst.value > 1.01 * known.value + 1e-3,
                })
            };
            let mut rows: Vec<&PartialWorst> =
                list.iter().filter(own).filter(|worst| worst.value.abs() > 1e-6 || kind == 3).filter(adds).collect();
            rows.sort_by(|a, b| if kind == 3 { a.value.total_cmp(&b.value) } else { b.value.total_cmp(&a.value) });
            let shown = if all { rows.len() } else { rows.len().min(3) };
            for worst in &rows[..shown] {
                let (words, what, unit) = target_words(view, worst.target);
                let parted = match worst.parted.len() {
                    0 => "nothing".to_owned(),
                    n if n > 3 => format!("{n}, {} among them", view.design.element_words(worst.parted[0])),
                    _ => worst.parted.iter().map(|element| view.design.element_words(*element)).collect::<Vec<_>>().join(", "),
                };
                let most = worst.at_most.map_or(String::new(), |most| format!(", at most {}", number::with_unit(most, unit)));
                grid.row(vec![
                    words.to_owned(),
                    what,
                    number::with_unit(worst.value, unit) + &most,
                    number::with_unit(worst.mated, unit),
                    variant_words(view, event, &event.variants[worst.variant]),
                    worst.corner.word().to_owned(),
                    parted,
                ]);
            }
        }
    }
    if grid.is_empty() {
        return "nothing flows or moves in any partial state\n\n".to_owned();
    }
    grid.render(style) + "\n"
}

fn orders(view: &View, event: &SeparationResult, style: Style) -> String {
    let mut grid = Grid::new(&["order of contacts", ">signal contact", ">any contact", ">reference shift"]);
    for order in &event.orders {
        grid.row(vec![
            order.words.clone(),
            number::with_unit(order.signal, "A"),
            number::with_unit(order.contact, "A"),
            number::with_unit(order.shift, "V"),
        ]);
    }
    let mut text = grid.render(style);
    let mut circuits: Vec<(String, f64)> = Vec::new();
    for &(contact, circuit, current) in event.feeds.iter().filter(|(.., current)| *current > 1e-6) {
        let words = circuit.map_or_else(
            || view.design.element_words(ElementId::Contact(contact)),
            |id| format!("circuit:{}", view.design.circuits[id].name),
        );
        match circuits.iter_mut().find(|(known, _)| *known == words) {
            Some((_, sum)) => *sum += current,
            None => circuits.push((words, current)),
        }
    }
    if !circuits.is_empty() {
        let list: Vec<String> = circuits.iter().map(|(words, current)| format!("{words} ({})", number::with_unit(*current, "A"))).collect();
        let advice = format!("dead before anything parts: {}; then feeds on short contacts, returns on long ones", list.join(", "));
        text.push_str(&crate::explain::wrap("advice", &advice, style));
    }
    text + "\n"
}

fn afterwards(view: &View, event: &SeparationResult, all: bool) -> String {
    let design = view.design;
    let mut text = String::new();
    for half in &event.halves {
        let sources: Vec<String> = half.sources.iter().map(|element| design.element_words(*element)).collect();
        let grounds: Vec<String> = half.grounds.iter().map(|id| design.end_name(End::Ground(*id))).collect();
        let bonds = if grounds.is_empty() {
            "no ground".to_owned()
        } else {
            format!("{} to {}", number::counted(half.bonds, "bond"), grounds.join(", "))
        };
        let line = format!("{} work on {}, {bonds}", number::counted(half.loads, "load"), sources.join(", "));
        text.push_str(&crate::explain::wrap_under("afterwards: ", &line));
    }
    text.push_str(&functions(view, event));
    let shown = if all { event.stubs.len() } else { event.stubs.len().min(FIRST) };
    for stub in &event.stubs[..shown] {
        text.push_str(&format!(
            "live stub {}: {}, {}, {} corner\n",
            design.pin_name(stub.pin),
            number::with_unit(stub.volts.0, "V"),
            variant_words(view, event, &event.variants[stub.variant]),
            stub.corner.word()
        ));
    }
    if event.stubs.len() > shown {
        text.push_str(&format!("… and {} live stubs more: --all\n", event.stubs.len() - shown));
    }
    if event.stubs.is_empty() {
        text.push_str("no contact half stays live\n");
    }
    text
}

/// Functions that worked before: how many are kept, what is lost, and what stands worse in between.
fn functions(view: &View, event: &SeparationResult) -> String {
    let design = view.design;
    if event.functions.is_empty() {
        return String::new();
    }
    let of = |case: &FunctionCase| {
        let reason = crate::faults::reason_words(view, case);
        let reason = if reason.is_empty() { String::new() } else { format!(" ({reason})") };
        format!("{}{reason}", design.functions[case.function].name)
    };
    let kept = event.functions.iter().filter(|row| row.after.effect == Effect::Kept).count();
    let mut line = format!("{} of {} kept", kept, number::counted(event.functions.len(), "function"));
    for effect in [Effect::Degraded, Effect::Lost, Effect::NotKnown] {
        let own: Vec<String> = event
            .functions
            .iter()
            .filter(|row| row.after.effect == effect)
            .map(|row| format!("{}, {} corner", of(&row.after), row.corner.word()))
            .collect();
        if !own.is_empty() {
            line.push_str(&format!("; {}: {}", effect.word(), own.join("; ")));
        }
    }
    let mut text = crate::explain::wrap_under("afterwards: ", &line);
    for place in 0..2 {
        for found in event.functions.iter().filter_map(|row| row.between[place].as_ref()) {
            let line = format!(
                "{} {}; {}, {} corner, {} parted",
                of(&found.case),
                found.case.effect.word(),
                variant_words(view, event, &event.variants[found.variant]),
                found.corner.word(),
                match &found.parted[..] {
                    [] => "nothing".to_owned(),
                    [one] => design.element_words(*one),
                    list => format!("{}, {} among them,", list.len(), design.element_words(list[0])),
                }
            );
            text.push_str(&crate::explain::wrap_under("in between: ", &line));
        }
    }
    text
}

fn findings(view: &View, followed: &Separated, all: bool, style: Style) -> String {
    let mut text = String::new();
    for rule in rules::RULES.iter().filter(|rule| matches!(rule.check, rules::Check::Separation(_))) {
        let verdict = followed.verdict;
        let own: Vec<&Finding> = verdict.findings.iter().filter(|finding| finding.rule == rule.code).collect();
        let judged = verdict.counted.iter().find(|row| row.rule == rule.code).map_or(0, |row| row.subjects);
        if own.is_empty() && judged == 0 {
            continue;
        }
        let count = if own.is_empty() { "no findings".to_owned() } else { number::counted(own.len(), "finding") };
        text.push_str(&format!("{}  {}   {count}, {} judged\n", style.strong(rule.code.0), rule.title, number::count(judged)));
        let shown = if all { own.len() } else { own.len().min(FIRST) };
        for finding in &own[..shown] {
            let state = crate::check::standing(&finding.state);
            let value = finding.margin.as_ref().map_or(String::new(), |margin| view.value_of_limit(margin) + "; ");
            let line = format!("{state}{value}{}; {}", finding.text, view.place(finding.at));
            text.push_str(&crate::explain::wrap_under(&format!("   {}  ", view.design.subject_words(finding.subject)), &line));
        }
        if own.len() > shown {
            text.push_str(&format!("   … and {} more: --all\n", own.len() - shown));
        }
        text += &crate::check::next_to_limit(view, rule, verdict.margins.iter().filter(|margin| margin.rule == rule.code), style);
    }
    text + "\n"
}

/// Everything as JSON.
pub fn separate_json(view: &View, followed: &Separated) -> Value {
    let design = view.design;
    let subject = |element: ElementId| view.subject_row(Subject::Element(element));
    let event = |event: &SeparationResult| {
        let row = &design.separations[event.separation];
        let steps = row.steps.iter().enumerate().map(|(at, step)| {
            let commands = event.commands.iter().find(|commands| commands.step == at);
            json!({
                "step": step.name.to_string(), "earliest_s": number::json(step.time.low.value.0), "typical_s": number::json(step.time.typical.value.0),
                "latest_s": number::json(step.time.high.value.0), "what": act_words(view, &step.act),
                "by": step.by.map(|by| design.loads[by.value].name.to_string()), "by_has_power": commands.and_then(|commands| commands.by_fed),
                "after_parting": commands.is_some_and(|commands| commands.after_parting),
            })
        });
        let contacts =
            event.contacts.iter().map(|&(id, role)| json!({ "subject": subject(ElementId::Contact(id)), "role": role_word(role) }));
        let searches = event.searches.iter().map(|search| {
            json!({
                "devices": variant_words(view, event, &search.variant), "corner": search.corner.word(), "on_loops": search.on_loops.len(),
                "carry_nothing": search.left_out, "states": search.examined, "excluded": search.excluded, "searched": searched_word(search.searched),
            })
        });
        let worst = event.worst.iter().chain(&event.stuck).map(|worst| {
            let (kind, _, unit) = target_words(view, worst.target);
            let about = match worst.target {
                Target::Current(id) | Target::Alone(id) => ElementId::Contact(id),
                Target::Shift(id) | Target::Volts(id) => ElementId::Load(id),
                Target::Charges(id) => ElementId::Source(id),
            };
            json!({
                "kind": kind, "subject": subject(about), "value": number::json(worst.value), "all_mated": number::json(worst.mated),
                "at_most": worst.at_most.and_then(number::json), "unit": unit, "devices": variant_words(view, event, &event.variants[worst.variant]),
                "corner": worst.corner.word(), "parted": worst.parted.iter().map(|element| subject(*element)).collect::<Vec<_>>(),
            })
        });
        let orders = event.orders.iter().map(|order| {
            json!({
                "order": order.words, "signal_a": number::json(order.signal), "contact_a": number::json(order.contact),
                "shift_v": number::json(order.shift),
            })
        });
        let feeds = event.feeds.iter().map(|&(id, circuit, current)| {
            json!({
                "subject": subject(ElementId::Contact(id)), "circuit": circuit.map(|id| design.circuits[id].name.to_string()),
                "current_a": number::json(current),
            })
        });
        let stubs = event.stubs.iter().map(|stub| {
            json!({
                "subject": view.subject_row(Subject::Pin(stub.pin)), "voltage_v": number::json(stub.volts.0),
                "devices": variant_words(view, event, &event.variants[stub.variant]), "corner": stub.corner.word(),
            })
        });
        let halves = event.halves.iter().map(|half| {
            json!({
                "sources": half.sources.iter().map(|element| subject(*element)).collect::<Vec<_>>(),
                "grounds": half.grounds.iter().map(|id| design.end_name(End::Ground(*id))).collect::<Vec<_>>(), "bonds": half.bonds, "loads": half.loads,
            })
        });
        let stands = |case: &FunctionCase| json!({ "effect": case.effect.word(), "reason": crate::faults::reason_words(view, case) });
        let functions = event.functions.iter().map(|function| {
            let between = function.between.iter().flatten().map(|found| {
                json!({
                    "stands": stands(&found.case), "devices": variant_words(view, event, &event.variants[found.variant]),
                    "corner": found.corner.word(), "parted": found.parted.iter().map(|element| subject(*element)).collect::<Vec<_>>(),
                })
            });
            json!({
                "function": design.functions[function.after.function].name.to_string(), "after": stands(&function.after),
                "corner": function.corner.word(), "between": between.collect::<Vec<_>>(),
            })
        });
        let inputs = event.floating.iter().map(|floating| {
            let input = &design.command_inputs[floating.input];
            json!({
                "input": input.name.to_string(), "pin": design.pin_name(input.pin.value), "open_reads": input.open_reads.map(|given| given.value.word()),
                "contact": subject(ElementId::Contact(floating.contact)), "moves": floating.moves.iter().map(|element| subject(*element)).collect::<Vec<_>>(),
            })
        });
        let blades = event.bridged.iter().map(|bridged| {
            json!({
                "step": row.steps[bridged.step].name.to_string(), "wires": bridged.wires.len(), "corner": bridged.corner.word(), "settled": bridged.settled,
                "current_a": bridged.worst.and_then(|(_, current)| number::json(current)),
                "wire": bridged.worst.map(|(wire, _)| design.wires[wire].name.to_string()),
                "upset": bridged.upset.iter().map(|&load| design.loads[load].name.to_string()).collect::<Vec<_>>(),
            })
        });
        json!({
            "separation": row.name.to_string(), "phase": design.phases[row.phase.value].name.to_string(), "steps": steps.collect::<Vec<_>>(),
            "contacts": contacts.collect::<Vec<_>>(), "searches": searches.collect::<Vec<_>>(), "worst": worst.collect::<Vec<_>>(),
            "orders": orders.collect::<Vec<_>>(), "feeds": feeds.collect::<Vec<_>>(), "stubs": stubs.collect::<Vec<_>>(),
            "halves": halves.collect::<Vec<_>>(), "lost": event.lost.iter().map(|&load| design.loads[load].name.to_string()).collect::<Vec<_>>(),
            "functions": functions.collect::<Vec<_>>(), "inputs": inputs.collect::<Vec<_>>(),
            "blades": blades.collect::<Vec<_>>(), "unsettled": event.unsettled,
        })
    };
    let findings = followed.verdict.findings.iter().map(|finding| {
        let unit = rules::explain(finding.rule.0).map_or("", |rule| rule.unit.symbol());
        json!({
            "id": finding.id, "text": finding.text, "value": finding.margin.as_ref().and_then(|margin| number::json(margin.value)),
            "limit": finding.margin.as_ref().and_then(|margin| number::json(margin.limit)), "unit": unit,
            "state": match finding.state { FindingState::Open => "open", FindingState::Accepted(_) => "accepted", FindingState::Reopened(..) => "reopened" },
        })
    });
    let not_judged = followed.verdict.not_judged.iter().map(|row| {
        json!({ "rule": row.rule.0, "subject": view.subject_row(row.subject), "missing": row.missing, "why": row.why, "required": row.required })
    });
    let stray = followed.table.stray.iter().map(|row| {
        json!({
            "initiator": design.initiators[row.initiator].name.to_string(), "phase": design.phases[row.phase].name.to_string(),
            "corner": row.corner.word(), "without_a": number::json(row.without), "current_a": number::json(row.current),
            "fault": row.fault.as_ref().map(|fault| (followed.fault_id)(fault)), "states": row.states, "unsettled": row.unsettled,
        })
    });
    let hazards = followed.table.hazards.iter().map(|hazard| {
        let initiator = &design.initiators[hazard.initiator];
        let inhibits = hazard.inhibits.iter().map(|(element, faults)| {
            json!({ "subject": subject(*element), "faults": faults.iter().map(|fault| (followed.fault_id)(fault)).collect::<Vec<_>>() })
        });
        let shared = hazard.shared.iter().map(|(fault, left)| json!({ "fault": (followed.fault_id)(fault), "left": left }));
        let drives = hazard.drives.iter().map(|(name, list)| {
            json!({ "drive": name.to_string(), "inhibits": list.iter().map(|element| subject(*element)).collect::<Vec<_>>() })
        });
        json!({
            "initiator": initiator.name.to_string(), "hazard": initiator.hazard, "phase": design.phases[hazard.phase].name.to_string(),
            "inhibits": inhibits.collect::<Vec<_>>(), "shared": shared.collect::<Vec<_>>(), "drives": drives.collect::<Vec<_>>(),
        })
    });
    let cautions: Vec<String> = crate::cautions(design).into_iter().chain([CAUTION.to_owned()]).collect();
    json!({
        "format": crate::json::FORMAT, "command": "separate", "vehicle": design.name.to_string(), "phases": view.phase_names(),
        "rows": followed.table.events.iter().map(event).collect::<Vec<_>>(), "stray": stray.collect::<Vec<_>>(),
        "hazards": hazards.collect::<Vec<_>>(), "findings": findings.collect::<Vec<_>>(), "partial": followed.table.partial,
        "recalled": view.recalled(), "not_judged": not_judged.collect::<Vec<_>>(), "cautions": cautions,
    })
}
