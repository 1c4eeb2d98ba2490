//! What is kept of judged states: per rule, subject and side the worst value, every failing state, and what was not judged.

use crate::contact::{self, Rating};
use crate::{Case, Wiring, case::Missing, op_01::place_of, rule_order};
use analysis::{Foothold, Near};
use model::*;
use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;
use std::collections::hash_map::Entry;
use std::sync::{Arc, OnceLock};

/// One subject judged by one rule in one state.
pub struct Judged {
    /// The rule.
    pub rule: RuleCode,
    /// Who is judged.
    pub subject: Subject,
    /// The value, in the rule's unit.
    pub value: f64,
    /// The limit, in the rule's unit.
    pub limit: f64,
    /// Which side is good.
    pub bound: Bound,
    /// The limit's row or the subject's.
    pub at: Span,
    /// What the numbers do not say; may be empty.
    pub text: String,
}

/// Whether a value keeps a limit: zero margin passes, and so does what the solution cannot tell from zero.
pub fn passes(value: f64, limit: f64, bound: Bound) -> bool {
    // A network solution is good to about 1e-9 of its voltages; a finding must not hang on less.
    let resolved = 1e-9 * limit.abs().max(1.0);
    match bound {
        Bound::AtMost => limit - value >= -resolved,
        Bound::AtLeast => value - limit >= -resolved,
    }
}

/// Whether a margin takes the place of the one kept: one that fails does of one that passes, else the lesser, of equals that of the earlier state.
/// So nothing hangs on which thread judged which states, and when.
fn is_worse(margin: &Margin, kept: &Margin) -> bool {
    let fails_first = |margin: &Margin| passes(margin.value, margin.limit, margin.bound);
    let order = fails_first(margin).cmp(&fails_first(kept)).then(margin.in_order().total_cmp(&kept.in_order()));
    order.then(margin.state.cmp(&kept.state)).is_lt()
}

/// The same where the best state counts, for a margin as [`Margin::in_order`] gives it.
fn is_better(in_order: f64, state: Option<State>, kept: &Margin) -> bool {
    kept.in_order().total_cmp(&in_order).then(state.cmp(&kept.state)).is_lt()
}

/// The worst of each rule, subject and side over all states judged so far.
#[derive(Default)]
pub struct Worst {
    rows: Vec<Row>,
    row_of: FxHashMap<(RuleCode, Subject, bool), usize>,
    troubles: Vec<Trouble>,
    trouble_of: FxHashMap<(RuleCode, Subject), usize>,
    missing: Vec<NotSeen>,
    missing_of: FxHashMap<(RuleCode, Subject), usize>,
    states: usize,
    /// Subjects judged by rules without a number, whether they found anything or not.
    looked_at: FxHashSet<(RuleCode, Subject)>,
    known: Arc<Known>,
    /// What states close to the one last judged stand on.
    foothold: Foothold,
    /// The state last judged with every load drawing next to nothing; filled by the first rule that asks.
    pub(crate) quiet: Option<Arc<Point>>,
    /// Protectors on the way to each load in the state last judged; filled by the first rule that asks.
    pub(crate) feeds: Option<Arc<crate::feeds::Feeds>>,
    /// Its states after firing, once a rule has asked for them.
    pub(crate) fired: Option<Arc<Vec<crate::ordnance::Fired>>>,
    /// The state last judged and those one action away, as loads that are commanded off see them; filled by the first rule that asks.
    pub(crate) sneak: Option<Arc<Vec<crate::sneak::Away>>>,
    /// What foreign metals do to each sensor; filled by the first rule that asks.
    pub(crate) foreign: Option<Arc<Vec<crate::se_03::Found>>>,
}

/// What holds in every state, found out once for all who judge.
#[derive(Default)]
pub(crate) struct Known {
    wiring: OnceLock<Arc<Wiring>>,
    ratings: OnceLock<Arc<Column<Contact, Result<Rating, Missing>>>>,
}

impl Known {
    /// Who lands on what.
    pub(crate) fn wiring(&self, case: &Case) -> Arc<Wiring> {
        self.wiring.get_or_init(|| Arc::new(Wiring::new(case.design, case.prepared))).clone()
    }
}

fn resting_on(mut notes: Vec<NoteId>) -> RestsOn {
    notes.sort_unstable();
    notes.dedup();
    RestsOn { notes }
}

/// A margin with what its numbers do not say.
struct Row {
    margin: Margin,
    text: String,
    /// What its value rests on beside is what lies on the way of the current in this element: found once no other state can take its place.
    along: Option<ElementId>,
    /// Whether the best state counts instead of the worst.
    best: bool,
}

struct Trouble {
    /// Of the state below.
    finding: Finding,
    /// The state of the greatest severity, of equals the earliest.
    severity: f64,
    state: State,
    /// Severity of each state.
    states: Vec<(f64, State)>,
}

impl Trouble {
    /// Whether another state is told in its place.
    fn is_graver(&self, severity: f64, state: State) -> bool {
        self.severity.total_cmp(&severity).then(state.cmp(&self.state)).is_lt()
    }

    /// Adds what other states say of the same.
    fn take(&mut self, other: Trouble) {
        if self.is_graver(other.severity, other.state) {
            (self.finding, self.severity, self.state) = (other.finding, other.severity, other.state);
        }
        self.states.extend(other.states);
    }
}

struct NotSeen {
    /// Of the earliest state.
    row: NotJudged,
    state: State,
    states: Vec<State>,
}

impl NotSeen {
    /// Adds other states in which the same is not judged. No profile asks for what one of them can do without.
    fn take(&mut self, other: NotSeen) {
        let required = self.row.required && other.row.required;
        if other.state < self.state {
            (self.row, self.state) = (other.row, other.state);
        }
        self.row.required = required;
        self.states.extend(other.states);
    }
}

/// Phase and corner; the order of these is the order of states.
type State = (Id<Phase>, Corner);

fn state_of(point: &Point) -> State {
    (point.scenario.phase, point.scenario.corner)
}

/// What [`Worst`] kept, in the order of rules and subjects.
pub(crate) struct Kept {
    pub(crate) margins: Vec<(Margin, String)>,
    pub(crate) troubles: Vec<Finding>,
    pub(crate) not_judged: Vec<NotJudged>,
    pub(crate) counted: Vec<Counted>,
    pub(crate) states: usize,
}

impl Worst {
    /// One that knows what others have found out.
    pub(crate) fn knowing(known: &Arc<Known>) -> Worst {
        Worst { known: Arc::clone(known), ..Worst::default() }
    }

    /// Who lands on what.
    pub(crate) fn wiring(&self, case: &Case) -> Arc<Wiring> {
        self.known.wiring(case)
    }

    /// What each contact may carry; found out once.
    pub(crate) fn contact_ratings(&self, case: &Case) -> Arc<Column<Contact, Result<Rating, Missing>>> {
        let make = || {
            let wiring = self.wiring(case);
            Arc::new(case.design.contacts.ids().map(|id| contact::rating(case.design, &wiring, id)).collect())
        };
        self.known.ratings.get_or_init(make).clone()
    }

    /// Counts a state.
    pub(crate) fn begin(&mut self) {
        self.states += 1;
        self.foothold = Foothold::default();
        self.quiet = None;
        self.feeds = None;
        self.fired = None;
        self.sneak = None;
    }

    /// States close to the one that is judged.
    pub(crate) fn near<'a>(&self, case: &Case<'a>, point: &'a Point) -> Near<'a, 'a> {
        case.prepared.near_on(point, &self.foothold)
    }

    /// Keeps a margin if it is the worst of its rule, subject and side. `rests_on` is asked only then.
    pub fn push(&mut self, point: &Point, judged: Judged, rests_on: impl FnOnce() -> Vec<NoteId>) {
        self.push_along(point, judged, None, rests_on);
    }

    /// The same of a value that rests on the current in an element too; says whether it is the worst so far.
    pub(crate) fn push_along(
        &mut self,
        point: &Point,
        judged: Judged,
        along: impl Into<Option<ElementId>>,
        rests_on: impl FnOnce() -> Vec<NoteId>,
    ) -> bool {
        let along = along.into();
        let (phase, corner) = state_of(point);
        let Judged { rule, subject, value, limit, bound, at, text } = judged;
        let fails = !passes(value, limit, bound);
        let mut margin = Margin {
            rule,
            subject,
            state: Some((phase, corner)),
            value,
            limit,
            bound,
            low: None,
            high: None,
            at,
            rests_on: RestsOn::default(),
            judged: 1,
            failing: Vec::new(),
        };
        if fails {
            margin.failing.push((phase, corner, value));
        }
        match self.row_of.get(&(rule, subject, bound == Bound::AtMost)) {
            None => {
                margin.rests_on = resting_on(rests_on());
                self.row_of.insert((rule, subject, bound == Bound::AtMost), self.rows.len());
                self.rows.push(Row { margin, text, along, best: false });
                true
            }
            Some(&row) => {
                let Row { margin: kept, text: kept_text, along: kept_along, .. } = &mut self.rows[row];
                let mut failing = std::mem::take(&mut kept.failing);
                failing.append(&mut margin.failing);
                margin.judged = kept.judged + 1;
                let worse = is_worse(&margin, kept);
                if worse {
                    margin.rests_on = resting_on(rests_on());
                    *kept = margin;
                    (*kept_text, *kept_along) = (text, along);
                } else {
                    kept.judged = margin.judged;
                }
                kept.failing = failing;
                worse
            }
        }
    }

    /// Least and greatest that the value kept of a rule, subject and side may be within uncertainties that belong to no corner.
    pub(crate) fn within(&mut self, rule: RuleCode, subject: Subject, bound: Bound, [low, high]: [f64; 2]) {
        if let Some(&row) = self.row_of.get(&(rule, subject, bound == Bound::AtMost)) {
            let margin = &mut self.rows[row].margin;
            (margin.low, margin.high) = (Some(low), Some(high));
        }
    }

    /// Keeps a margin that has to be reached in one state only: the best of its rule, subject and side.
    pub(crate) fn push_best(&mut self, point: &Point, judged: Judged, rests_on: impl FnOnce() -> Vec<NoteId>) {
        let key = (judged.rule, judged.subject, judged.bound == Bound::AtMost);
        let Judged { value, limit, bound, .. } = judged;
        if let Some(&row) = self.row_of.get(&key) {
            let kept = &mut self.rows[row].margin;
            if !is_better(rounded(crate::distance(bound, value, limit), limit), Some(state_of(point)), kept) {
                kept.judged += 1;
                return;
            }
        }
        let mut one = Worst::default();
        one.push(point, judged, rests_on);
        self.keep(Row { best: true, ..one.rows.swap_remove(0) });
    }

    /// Puts a row to those kept, or in the place of the one it beats.
    fn keep(&mut self, mut row: Row) {
        let key = (row.margin.rule, row.margin.subject, row.margin.bound == Bound::AtMost);
        let Some(&at) = self.row_of.get(&key) else {
            self.row_of.insert(key, self.rows.len());
            self.rows.push(row);
            return;
        };
        let kept = &mut self.rows[at];
        let judged = kept.margin.judged + row.margin.judged;
        let beats = match row.best {
            true => is_better(row.margin.in_order(), row.margin.state, &kept.margin),
            false => is_worse(&row.margin, &kept.margin),
        };
        if !row.best {
            let mut failing = std::mem::take(&mut kept.margin.failing);
            failing.append(&mut row.margin.failing);
            kept.margin.failing = failing.clone();
            row.margin.failing = failing;
        }
        if beats {
            *kept = row;
        }
        kept.margin.judged = judged;
    }

    /// The worst of both, whichever is first.
    pub(crate) fn joined(self, other: Worst) -> Worst {
        let (mut larger, smaller) = if self.len() < other.len() { (other, self) } else { (self, other) };
        larger.append(smaller);
        larger
    }

    fn len(&self) -> usize {
        self.rows.len() + self.missing.len()
    }

    /// Adds what was kept of other states; the result is that of judging them all one after another.
    pub(crate) fn append(&mut self, other: Worst) {
        self.states += other.states;
        self.looked_at.extend(other.looked_at);
        other.rows.into_iter().for_each(|row| self.keep(row));
        for trouble in other.troubles {
            self.take_trouble(trouble);
        }
        for missing in other.missing {
            self.take_missing(missing);
        }
    }

    fn take_trouble(&mut self, trouble: Trouble) {
        match self.trouble_of.entry((trouble.finding.rule, trouble.finding.subject)) {
            Entry::Occupied(row) => self.troubles[*row.get()].take(trouble),
            Entry::Vacant(row) => {
                row.insert(self.troubles.len());
                self.troubles.push(trouble);
            }
        }
    }

    fn take_missing(&mut self, missing: NotSeen) {
        match self.missing_of.entry((missing.row.rule, missing.row.subject)) {
            Entry::Occupied(row) => self.missing[*row.get()].take(missing),
            Entry::Vacant(row) => {
                row.insert(self.missing.len());
                self.missing.push(missing);
            }
        }
    }

    /// Counts a subject that a rule without a number judged.
    pub(crate) fn looked_at(&mut self, rule: RuleCode, subject: Subject) {
        self.looked_at.insert((rule, subject));
    }

    /// A finding that no number says. Of several states, the text of the greatest severity stays.
    pub(crate) fn trouble(&mut self, case: &Case, point: &Point, rule: RuleCode, subject: Subject, severity: f64, text: String) {
        self.trouble_with(case, point, (rule, subject), severity, text, Vec::new());
    }

    /// The same with the places that it follows from.
    pub(crate) fn trouble_with(
        &mut self,
        case: &Case,
        point: &Point,
        (rule, subject): (RuleCode, Subject),
        severity: f64,
        text: String,
        also: Vec<LabelledSpan>,
    ) {
        self.looked_at(rule, subject);
        let state = state_of(point);
        if let Some(&row) = self.trouble_of.get(&(rule, subject)) {
            let kept = &mut self.troubles[row];
            if !kept.is_graver(severity, state) {
                kept.states.push((severity, state));
                return;
            }
        }
        let finding = Finding {
            id: crate::finding_id(case, rule, subject),
            rule,
            subject,
            margin: None,
            text,
            at: place_of(case.design, subject),
            also,
            phases: Vec::new(),
            state: FindingState::Open,
        };
        self.take_trouble(Trouble { finding, severity, state, states: vec![(severity, state)] });
    }

    /// A subject that a rule cannot judge in this state.
    pub(crate) fn not_judged(&mut self, point: &Point, rule: RuleCode, subject: Subject, at: Span, missing: Missing) {
        self.not_seen(point, NotJudged { rule, subject, missing: missing.field, why: missing.why, at, required: true });
    }

    /// A subject that is not judged for want of an input that no profile requires.
    pub(crate) fn not_required(&mut self, point: &Point, rule: RuleCode, subject: Subject, at: Span, missing: Missing) {
        self.not_seen(point, NotJudged { rule, subject, missing: missing.field, why: missing.why, at, required: false });
    }

    fn not_seen(&mut self, point: &Point, row: NotJudged) {
        let state = state_of(point);
        self.take_missing(NotSeen { row, state, states: vec![state] });
    }

    /// Finds for the rows that are kept what lies on the ways of their currents.
    ///
    /// Cost: a walk for each element and state among them.
    pub(crate) fn find_ways(&mut self, case: &Case, points: &[Point]) {
        let at: FxHashMap<State, usize> = points.iter().map(state_of).zip(0..).collect();
        let asked = |row: &Row| Some((*at.get(&row.margin.state?)?, row.along?));
        let mut ways: Vec<(usize, ElementId)> = self.rows.iter().filter_map(asked).collect();
        ways.sort_unstable();
        ways.dedup();
        let open: Vec<Vec<(u32, NoteId)>> = points.par_iter().map(|point| case.open_loads(point)).collect();
        let notes: Vec<Vec<NoteId>> = ways.par_iter().map(|&(at, element)| case.way_notes(&points[at], element, &open[at])).collect();
        for row in &mut self.rows {
            if let Some(found) = asked(row).and_then(|asked| ways.binary_search(&asked).ok()) {
                let own = std::mem::take(&mut row.margin.rests_on.notes);
                row.margin.rests_on = resting_on(own.into_iter().chain(notes[found].iter().copied()).collect());
            }
        }
    }

    pub(crate) fn finish(mut self, design: &Design) -> Kept {
        self.rows.sort_by_cached_key(|row| (rule_order(row.margin.rule), row.margin.subject, row.margin.bound == Bound::AtMost));
        for margin in self.rows.iter_mut().map(|row| &mut row.margin) {
            let (bound, limit) = (margin.bound, margin.limit);
            // The first of those that rounding alone tells apart stays the first.
            let order = |value: f64| rounded(crate::distance(bound, value, limit), limit);
            margin.failing.sort_by(|a, b| order(a.2).total_cmp(&order(b.2)).then((a.0, a.1).cmp(&(b.0, b.1))));
        }
        self.missing.sort_by_cached_key(|m| (rule_order(m.row.rule), m.row.subject));
        let judged = |rule, subject| [true, false].iter().any(|&side| self.row_of.contains_key(&(rule, subject, side)));
        let not_judged = self.missing.into_iter().map(|NotSeen { mut row, mut states, .. }| {
            states.sort_unstable();
            if judged(row.rule, row.subject) {
                row.why = format!("{}, in {}", row.why, phases_text(design, &states));
            }
            row
        });
        let mut subjects: BTreeMap<usize, (RuleCode, FxHashSet<Subject>)> = BTreeMap::new();
        for (rule, subject) in self.rows.iter().map(|row| (row.margin.rule, row.margin.subject)).chain(self.looked_at) {
            subjects.entry(rule_order(rule)).or_insert_with(|| (rule, FxHashSet::default())).1.insert(subject);
        }
        let counted = subjects.into_values().map(|(rule, of)| Counted { rule, subjects: of.len(), rests_on: RestsOn::default() });
        Kept {
            counted: counted.collect(),
            not_judged: not_judged.collect(),
            margins: self.rows.into_iter().map(|row| (row.margin, row.text)).collect(),
            troubles: self.troubles.into_iter().map(with_states).collect(),
            states: self.states,
        }
    }
}

/// The finding with its states, the gravest first.
fn with_states(trouble: Trouble) -> Finding {
    let Trouble { mut finding, mut states, .. } = trouble;
    states.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    // A phase of several stretches is one state.
    let mut seen = FxHashSet::default();
    finding.phases = states.into_iter().map(|(_, state)| state).filter(|state| seen.insert(*state)).collect();
    finding
}

/// `phase burn, coast`.
fn phases_text(design: &Design, states: &[(Id<Phase>, Corner)]) -> String {
    let mut names: Vec<&str> = states.iter().map(|&(phase, _)| &*design.phases[phase].name).collect();
    names.dedup();
    format!("phase {}", names.join(", "))
}

/// What an end belongs to, as a subject of findings.
pub fn subject_of_end(end: End) -> Subject {
    match end {
        End::Pin(id) => Subject::Pin(id),
        End::Splice(id) => Subject::Splice(id),
        End::Stud(id) => Subject::Stud(id),
        End::Ground(id) => Subject::Ground(id),
        End::Shell(id) => Subject::Connector(id),
        End::Case(id) => Subject::Unit(id),
        End::Inner(id) => Subject::Inner(id),
        End::Branch(_) | End::Stowed => Subject::Vehicle,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn margin(value: f64) -> Margin {
        Margin {
            rule: RuleCode("VL-01"),
            subject: Subject::Vehicle,
            state: None,
            value,
            limit: 30.0,
            bound: Bound::AtMost,
            low: None,
            high: None,
            at: Span { file: FileId(0), start: 0, end: 0 },
            rests_on: RestsOn::default(),
            judged: 1,
            failing: Vec::new(),
        }
    }

    /// A ten-millionth of the limit is rounding: 3 uV of 30 V. One that fails is told even so.
    #[test]
    fn the_first_of_equals_stays() {
        let kept = margin(29.0);
        assert!(!is_worse(&margin(29.0), &kept) && !is_worse(&margin(29.0 + 1e-6), &kept) && !is_worse(&margin(28.0), &kept));
        assert!(is_worse(&margin(29.0 + 4e-6), &kept));
        assert!(is_worse(&margin(30.0 + 1e-6), &margin(30.0 - 1e-6)), "the only one that fails");
    }

    fn state(phase: usize, corner: Corner) -> State {
        (Id::from_row(phase), corner)
    }

    /// Of equals the earlier state is named, whichever was judged first; where the best counts too.
    #[test]
    fn of_equals_the_earlier_state() {
        let in_state = |phase, corner| Margin { state: Some(state(phase, corner)), ..margin(29.0) };
        let (early, late) = (in_state(1, Corner::High), in_state(2, Corner::Low));
        assert!(is_worse(&early, &late) && !is_worse(&late, &early));
        assert!(is_worse(&in_state(1, Corner::Low), &early), "the low corner before the high one");
        assert!(is_better(early.in_order(), early.state, &late) && !is_better(late.in_order(), late.state, &early));
    }

    /// Two threads' rows of one subject, put together either way, are the same: text of the gravest state, of equals the earlier; states in order;
    /// what one state does not require is required in none.
    #[test]
    fn put_together_either_way() {
        let row = |at: State, margin: Margin| Row {
            margin: Margin { state: Some(at), failing: vec![(at.0, at.1, margin.value)], ..margin },
            text: format!("{at:?}"),
            along: None,
            best: false,
        };
        let trouble = |at: State, severity: f64| Trouble {
            finding: Finding {
                id: String::new(),
                rule: RuleCode("SN-01"),
                subject: Subject::Vehicle,
                margin: None,
                text: format!("{at:?}"),
                at: margin(0.0).at,
                also: Vec::new(),
                phases: Vec::new(),
                state: FindingState::Open,
            },
            severity,
            state: at,
            states: vec![(severity, at)],
        };
        let missing = |at: State, required: bool| NotSeen {
            row: NotJudged {
                rule: RuleCode("CT-01"),
                subject: Subject::Vehicle,
                missing: String::new(),
                why: format!("{at:?}"),
                at: margin(0.0).at,
                required,
            },
            state: at,
            states: vec![at],
        };
        let of = |at: State, required: bool| {
            let mut worst = Worst::default();
            worst.keep(row(at, margin(31.0)));
            worst.take_trouble(trouble(at, 2.0));
            worst.take_missing(missing(at, required));
            worst
        };
        let (early, late) = (state(0, Corner::High), state(1, Corner::Low));
        for [first, second] in [[early, late], [late, early]] {
            let mut worst = of(first, first == early);
            worst.append(of(second, second == early));
            let Worst { rows, troubles, missing, .. } = worst;
            let told = [&rows[0].text, &troubles[0].finding.text, &missing[0].row.why];
            assert_eq!(told, [&format!("{early:?}"); 3]);
            assert!(!missing[0].row.required);
            assert_eq!((rows[0].margin.judged, rows[0].margin.failing.len(), troubles[0].states.len()), (2, 2, 2));
        }
    }
}
