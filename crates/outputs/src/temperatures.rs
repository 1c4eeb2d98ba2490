//! `show temperatures`: how warm each wire gets, what limits it, what it may carry, and what the table says.

use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::{HeatRange, LedToEnds, Taken};
use model::*;
use physics::{Ampere, Kelvin};
use rules::{Case, HeatLimits, WireCurrents};
use serde::Serialize;
use std::collections::HashMap;

/// A row of `show temperatures`.
#[derive(Debug, Serialize)]
pub struct TemperatureRow {
    /// The wire.
    pub subject: SubjectRow,
    /// The segment of its route.
    pub segment: String,
    /// Wires in the section, itself included.
    pub wires: Option<usize>,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// What heats it: of pulses the root of the mean square.
    pub current_a: Option<f64>,
    /// The greatest current that it carries.
    pub peak_a: Option<f64>,
    /// Which current that is: `steady`, the `rms` of short pulses, a `course` of pulses followed in time, or the `peak` of a load whose
    /// pauses are not stated.
    pub heated_by: Option<&'static str>,
    /// Temperature of its conductor.
    pub conductor_c: Option<f64>,
    /// The least that it may be, by the stated ranges of contact and emittance; null in a table of everything.
    pub low_c: Option<f64>,
    /// The greatest that it may be.
    pub high_c: Option<f64>,
    /// Which of them moves it most: `contact`, `emittance`, or the `film` by another law of free convection.
    pub range_by: Option<&'static str>,
    /// The same with what its ends of stated temperature lead away: for the eye only, it is not judged; null where none is stated, and in a table of
    /// everything.
    pub led_c: Option<f64>,
    /// The stated temperature of an end of the wire in this segment that is hotter than the conductor with the margin: judged in place of them.
    pub end_c: Option<f64>,
    /// What is added before it is judged.
    pub margin_k: Option<f64>,
    /// The limit.
    pub limit_c: Option<f64>,
    /// What sets the limit.
    pub limited_by: Option<String>,
    /// What is left to the limit with the margin added.
    pub left_k: Option<f64>,
    /// Current at which nothing would be left, its neighbours as they are; null in a table of everything.
    pub allowed_a: Option<f64>,
    /// What the tables of wire current let it carry.
    pub table_a: Option<f64>,
    /// Where the two differ by more than a quarter: which assumption of the table makes the difference.
    pub table_differs: Option<String>,
    /// Temperature of the outside of the section.
    pub outside_c: Option<f64>,
    /// What carries heat to the gas; null in vacuum.
    pub film: Option<&'static str>,
    /// What has to be known beside the numbers.
    pub notes: Vec<String>,
    /// Why it has no temperature.
    pub reason: Option<String>,
}

/// Share by which the computed current and the table's differ before it is said why.
const DIFFERS: f64 = 0.25;

/// Wires in their segments: of each the worst segment and state, with `all` or a segment every one.
pub fn temperatures(view: &View, asked: &Asked) -> Vec<TemperatureRow> {
    let design = view.design;
    let limits = HeatLimits::new(design);
    let mut of_wire: Vec<Vec<(TemperatureRow, &Point, Id<Segment>)>> = design.wires.iter().map(|_| Vec::new()).collect();
    for point in asked.points(view) {
        let Some(heat) = &point.heat else { continue };
        for (segment, known) in heat.segments.iter() {
            let wanted = asked.names.is_empty() || asked.wants_group("segment", &design.segments[segment].name);
            for &wire in view.prepared.layout().members(segment) {
                let (kind, name) = design.element_name(ElementId::Wire(wire));
                let subject = SubjectRow { kind, name };
                if !(wanted || asked.wants_row(&subject)) {
                    continue;
                }
                let new = (row(view, &limits, point, (segment, wire), subject, known), point, segment);
                let rows = &mut of_wire[wire.row()];
                match rows.first_mut().filter(|_| !asked.all) {
                    Some(kept) if is_worse(&new.0, &kept.0) => *kept = new,
                    Some(_) => {}
                    None => rows.push(new),
                }
            }
        }
    }
    // What takes balances of its own is not for every segment in every state.
    let mut beside = (!asked.all || !asked.names.is_empty()).then(|| Beside {
        view,
        ranges: HashMap::new(),
        tables: HashMap::new(),
        led: HashMap::new(),
    });
    let mut all = Vec::new();
    for (wire, rows) in design.wires.ids().zip(of_wire) {
        for (mut row, point, segment) in rows {
            if let Some(beside) = &mut beside {
                beside.fill(&mut row, point, segment, wire);
            }
            all.push(row);
        }
    }
    all
}

/// What fails goes before what is not known, and that before what passes; of two alike the one with less left.
fn is_worse(new: &TemperatureRow, kept: &TemperatureRow) -> bool {
    let rank = |row: &TemperatureRow| match row.left_k {
        Some(left) if left < 0.0 => (0, left),
        None => (1, -row.conductor_c.unwrap_or(0.0)),
        Some(left) => (2, left),
    };
    rank(new) < rank(kept)
}

fn row(
    view: &View,
    limits: &HeatLimits,
    point: &Point,
    (segment, wire): (Id<Segment>, Id<Wire>),
    subject: SubjectRow,
    heat: &SegmentHeat,
) -> TemperatureRow {
    let design = view.design;
    let section = match heat {
        SegmentHeat::Known(section) => Some(section),
        _ => None,
    };
    let own = section.and_then(|section| section.of(wire));
    let warm = section.zip(own).and_then(|(section, own)| rules::Warm::new(view.prepared, limits, segment, section, *own).ok());
    let hot_end = warm.and_then(|warm| warm.hot_end);
    let limit = limits.of(wire, segment);
    let margin = section.map_or(Ok(None), |section| rules::heat_margin(design, section.wires.len()));
    let celsius = |t: Kelvin| number::json(t.celsius());
    let mut notes = Vec::new();
    if section.is_some_and(|section| section.no_gravity) {
        notes.push("gravity of the zone not stated, none counted".to_owned());
    }
    if section.is_some_and(|section| section.beyond_range) {
        notes.push("film beyond the range stated for its law".to_owned());
    }
    notes.extend(own.filter(|own| own.by != HeatedBy::Steady).map(|own| format!("at {}", rules::heated_by(own))));
    let reason = match heat {
        SegmentHeat::Runaway { wire: hot, from, .. } if *hot == wire => {
            let from = from.map_or(String::new(), |from| format!(" from {} on", number::with_unit(from.0, "A")));
            Some(format!("heats itself without end{from}"))
        }
        SegmentHeat::Unsettled { wire: hot } if *hot == wire => Some("the balance of heat was not reached".to_owned()),
        other => rules::heat_unknown(design, Some(wire), other).map(|(field, why)| format!("{field}: {why}")),
    };
    let lacks = [limit.as_ref().err(), margin.as_ref().err()].into_iter().flatten().map(|(field, why)| format!("{field}: {why}")).next();
    let added = margin.as_ref().ok().map(|margin| margin.map_or(0.0, |margin| margin.value.0));
    notes.extend(hot_end.map(|held| {
        format!("at its end {} {} °C as stated, judged", design.end_name(held.end), number::fixed(held.temperature.value.celsius(), 0))
    }));
    TemperatureRow {
        subject,
        segment: design.segments[segment].name.to_string(),
        wires: section.map(|section| section.wires.len()),
        phase: view.phase(point),
        corner: point.scenario.corner.word(),
        current_a: own.and_then(|own| number::json(own.current.0)),
        peak_a: own.and_then(|own| number::json(own.peak.0)),
        heated_by: own.map(|own| own.by.word()),
        conductor_c: own.and_then(|own| celsius(own.conductor)),
        low_c: None,
        high_c: None,
        range_by: None,
        led_c: None,
        end_c: hot_end.and_then(|held| celsius(held.temperature.value)),
        margin_k: added.filter(|_| own.is_some()),
        limit_c: limit.as_ref().ok().and_then(|limit| celsius(limit.limit.value)),
        limited_by: limit.as_ref().ok().map(|limit| limit.by.words(design)),
        left_k: warm.and_then(|warm| number::json(warm.left())),
        allowed_a: None,
        table_a: None,
        table_differs: None,
        outside_c: section.and_then(|section| celsius(section.skin)),
        film: section.map(|section| section.film).filter(|film| !film.is_empty()),
        notes,
        reason: reason.or(lacks),
    }
}

/// What stands beside a temperature and takes balances of heat of its own.
struct Beside<'v, 'a> {
    view: &'v View<'a>,
    ranges: HashMap<(Id<Segment>, Id<Phase>, Corner), Vec<HeatRange>>,
    tables: HashMap<(Id<Phase>, Corner), WireCurrents>,
    led: HashMap<(Id<Wire>, Id<Phase>, Corner), Option<LedToEnds>>,
}

impl Beside<'_, '_> {
    fn fill(&mut self, row: &mut TemperatureRow, point: &Point, segment: Id<Segment>, wire: Id<Wire>) {
        let (view, state) = (self.view, (point.scenario.phase, point.scenario.corner));
        let SegmentHeat::Known(section) = (match &point.heat {
            Some(heat) => &heat.segments[segment],
            None => return,
        }) else {
            return;
        };
        let ranges = self.ranges.entry((segment, state.0, state.1)).or_insert_with(|| view.prepared.heat_ranges(point, segment));
        let at = section.wires.iter().position(|of| of.wire == wire);
        if let Some(range) = at.and_then(|at| ranges.get(at)) {
            row.low_c = number::json(range.low.celsius());
            row.high_c = number::json(range.high.celsius());
            row.range_by = Some(range.by);
        }
        let led = self.led.entry((wire, state.0, state.1)).or_insert_with(|| view.prepared.led_to_ends(point, wire));
        let here = led.as_ref().and_then(|led| led.hottest.iter().find(|(at, _)| *at == segment));
        row.led_c = here.and_then(|(_, t)| number::json(t.celsius()));
        let case = Case { design: view.design, prepared: view.prepared, today: None };
        let currents = self.tables.entry(state).or_insert_with(|| WireCurrents::new(&case, point));
        let table = currents.of(&case, point, wire).and_then(Result::ok).and_then(|found| Some(found.judged(view.design).ok()?.allowed));
        row.table_a = table.and_then(|table| number::json(table.0));
        let (Some(limit), Some(margin)) = (row.limit_c, row.margin_k) else { return };
        let limit = Kelvin::from_celsius(limit);
        let allowed = view.prepared.heat_allowed(point, segment, wire, limit + physics::TemperatureRise(-margin));
        row.allowed_a = allowed.and_then(|allowed| number::json(allowed.0));
        if let (Some(allowed), Some(table)) = (allowed, table)
            && (allowed.0 / table.0.max(1e-9) - 1.0).abs() > DIFFERS
        {
            row.table_differs = Some(self.why(point, segment, wire, limit, margin, allowed, table));
        }
    }

    /// Which of the table's assumptions, taken alone, brings the computed current nearest to the table's.
    #[expect(clippy::too_many_arguments, reason = "two currents, a place and a limit")]
    fn why(
        &self,
        point: &Point,
        segment: Id<Segment>,
        wire: Id<Wire>,
        limit: Kelvin,
        margin: f64,
        allowed: Ampere,
        table: Ampere,
    ) -> String {
        let design = self.view.design;
        let judged_at = limit + physics::TemperatureRise(-margin);
        let at = |limit, taken| self.view.prepared.heat_allowed_if(point, segment, wire, limit, taken);
        let has_gas = design.segments[segment].zone.and_then(|zone| design.zones[zone.value].climate(point.scenario.phase).pressure);
        let has_gas = has_gas.is_some_and(|pressure| pressure.value.0 > 0.0);
        let Some(tables) = &design.ampacity else { return String::new() };
        let (surroundings, gas) = match &tables.tables {
            AmpacityTables::Vacuum(table) => (table.surroundings, has_gas.then_some(("that there is no gas", Taken::NoGas))),
            AmpacityTables::Air { .. } => {
                (design.phases[point.scenario.phase].ambient.high.value, Some(("air under gravity", Taken::GroundAir)))
            }
        };
        let rating = design.wires[wire].spec.and_then(|spec| design.wire_specs[spec.value].rating).map_or(limit, |rating| rating.value);
        let mut candidates = vec![
            (
                format!("surroundings of {} °C", number::fixed(surroundings.celsius(), 0)),
                at(judged_at, Some(Taken::Surroundings(surroundings))),
            ),
            ("cold neighbours".to_owned(), at(judged_at, Some(Taken::ColdNeighbours))),
            (format!("the whole rating of {} °C without margin", number::fixed(rating.celsius(), 0)), at(rating, None)),
        ];
        candidates.extend(gas.map(|(words, taken)| (words.to_owned(), at(judged_at, Some(taken)))));
        let off = |current: Ampere| (current.0.max(1e-9) / table.0.max(1e-9)).ln().abs();
        let best = candidates.into_iter().filter_map(|(words, current)| Some((words, off(current?)))).min_by(|a, b| a.1.total_cmp(&b.1));
        match best {
            Some((words, left)) if left < 0.8 * off(allowed) => format!("the table takes {words}"),
            _ => "the table's factor for the bundle, which knows no place in it".to_owned(),
        }
    }
}

/// The table as text, with what its columns mean.
pub fn temperatures_text(view: &View, rows: &[TemperatureRow], style: Style) -> String {
    if view.design.zones.is_empty() {
        return "the vehicle has no zones: its conductors are taken at the ambient of each phase\n".to_owned();
    }
    let mut grid = Grid::new(&[
        "wire",
        "segment",
        ">wires",
        ">carries A",
        ">conductor °C",
        ">from",
        ">to",
        "by",
        ">led °C",
        ">margin K",
        ">limit °C",
        "of",
        ">left K",
        ">allowed A",
        ">table A",
        "phase",
        "corner",
        "",
    ]);
    let amperes = |a: Option<f64>| a.map_or(String::new(), |a| if a.abs() < 5e-4 { "0".to_owned() } else { number::significant(a, 3) });
    let whole = |t: Option<f64>| t.map_or(String::new(), |t| number::fixed(t, 0));
    for row in rows {
        let mut notes = row.notes.clone();
        notes.extend(row.table_differs.clone());
        notes.extend(row.reason.as_ref().map(|reason| format!("not known: {reason}")));
        grid.row(vec![
            row.subject.name.clone(),
            row.segment.clone(),
            row.wires.map_or(String::new(), |wires| wires.to_string()),
            amperes(row.current_a),
            whole(row.conductor_c),
            whole(row.low_c),
            whole(row.high_c),
            row.range_by.unwrap_or_default().to_owned(),
            whole(row.led_c),
            whole(row.margin_k),
            whole(row.limit_c),
            row.limited_by.clone().unwrap_or_default(),
            whole(row.left_k),
            amperes(row.allowed_a),
            amperes(row.table_a),
            row.phase.clone(),
            row.corner.to_owned(),
            notes.join("; "),
        ]);
    }
    if grid.is_empty() {
        return "nothing to show\n".to_owned();
    }
    let mut text = grid.render(style);
    text.push('\n');
    for line in [
        "conductor: of the long run, far from the ends, in the hottest surroundings that the zone states (corner typical: the typical ones)",
        "carries: what heats it; of pulses the root of their mean square, as the notes say",
        "from, to: with contact between jackets and emittance at the ends of their stated ranges, and another law of free convection; by: which moves it most",
        "led: with what ends of stated temperature lead along the wire; shown only, but a hotter end is judged as the notes say",
        "allowed: what it may carry until nothing is left, its neighbours as they are; table: what the tables of wire current let it carry",
    ] {
        text.push_str(&style.faint(line));
        text.push('\n');
    }
    text
}
