//! Types of breaker, fuse and limiter, their bands and how ambient moves them: the shipped rows and the user's own, which take their place.

use super::{How, Item, LISTS, has_fault, item, source_and_note, text, twice};
use crate::codes;
use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::problems::Problems;
use crate::quantity::{self, Quantity};
use crate::sheet::{self, SheetRow};
use model::{Diagnostic, Name, ProtectorKind, Sources, Span};
use physics::trip::RATED_AT;
use std::collections::{HashMap, HashSet};

/// A row of a type, with its source.
pub(crate) struct Line<T> {
    pub(crate) of: Name,
    pub(crate) of_at: Span,
    pub(crate) row: T,
    pub(crate) source: String,
    pub(crate) at: Span,
}

/// Some of what is known of a type; each cell may stand in a row of its own.
pub(crate) struct DeviceRow {
    pub(crate) kind: ProtectorKind,
    kind_at: Span,
    /// The rating it is for; none holds for all.
    pub(crate) rating: Option<f64>,
    pub(crate) holds: Option<Item>,
    pub(crate) ultimate: Option<Item>,
    pub(crate) interrupts: Option<Item>,
    pub(crate) limits: Option<Item>,
    /// Least, typical, greatest.
    pub(crate) ohms: [Option<Item>; 3],
}

/// A point of a band.
pub(crate) struct BandRow {
    /// The rating it is for; none holds for all.
    pub(crate) rating: Option<f64>,
    pub(crate) ambient: f64,
    pub(crate) multiple: f64,
    multiple_at: Span,
    pub(crate) shortest: Option<Item>,
    pub(crate) longest: Option<Item>,
    pub(crate) how: How,
}

/// A point of a type's own shift of ambient.
pub(crate) struct AmbientRow {
    pub(crate) ambient: f64,
    ambient_at: Span,
    pub(crate) factor: Item,
}

/// All of them.
#[derive(Default)]
pub(crate) struct Devices {
    pub(crate) rows: Vec<Line<DeviceRow>>,
    pub(crate) bands: Vec<Line<BandRow>>,
    pub(crate) ambients: Vec<Line<AmbientRow>>,
    /// Types of rows that were not understood: what seems to be missing of them is no second mistake.
    failed: HashSet<Name>,
    unsure: bool,
    /// Numbers of the rows, bands and ambients of each type.
    index: HashMap<Name, [Vec<usize>; 3]>,
}

impl Devices {
    /// Rows, bands and ambients of a type.
    pub(crate) fn of(&self, name: &str) -> OfType<'_> {
        let numbers = self.index.get(name);
        fn pick<'a, T>(all: &'a [Line<T>], numbers: Option<&Vec<usize>>) -> Vec<&'a Line<T>> {
            numbers.into_iter().flatten().filter_map(|&n| all.get(n)).collect()
        }
        OfType {
            rows: pick(&self.rows, numbers.map(|of| &of[0])),
            bands: pick(&self.bands, numbers.map(|of| &of[1])),
            ambients: pick(&self.ambients, numbers.map(|of| &of[2])),
        }
    }
    /// Types in the order of the catalog.
    pub(crate) fn types(&self) -> Vec<&str> {
        let mut seen = HashSet::new();
        self.rows.iter().map(|line| &*line.of).filter(|name| seen.insert(*name)).collect()
    }
    /// Whether a type may stand in a row that was not understood.
    pub(crate) fn may_have(&self, name: &str) -> bool {
        self.unsure || self.failed.contains(name)
    }
}

/// What the catalog has of one type.
pub(crate) struct OfType<'a> {
    pub(crate) rows: Vec<&'a Line<DeviceRow>>,
    pub(crate) bands: Vec<&'a Line<BandRow>>,
    pub(crate) ambients: Vec<&'a Line<AmbientRow>>,
}

/// Reads the shipped rows, then the user's, and holds them against each other.
pub(crate) fn read(sources: &Sources, folder: &Folder, out: &mut Problems) -> Devices {
    let mut all = Devices { unsure: folder.unsure, ..Devices::default() };
    let mut reader = Reader { sources, folder, out, failed: HashSet::new(), unsure: folder.unsure };
    all.rows = reader.list("device", |table, row| {
        let (kind, kind_at) = text(table, row, "kind")?;
        let of = |key| item(table, row, key);
        Some(DeviceRow {
            kind: ProtectorKind::ALL.into_iter().find(|known| known.word() == &*kind)?,
            kind_at,
            rating: of("rating").map(|item| item.si),
            holds: of("holds"),
            ultimate: of("ultimate"),
            interrupts: of("interrupts"),
            limits: of("limits"),
            ohms: ["ohms_low", "ohms", "ohms_high"].map(of),
        })
    });
    all.bands = reader.list("trip band", |table, row| {
        let of = |key| item(table, row, key);
        let current = of("current")?;
        Some(BandRow {
            rating: of("rating").map(|item| item.si),
            ambient: of("ambient")?.si,
            multiple: current.si,
            multiple_at: current.at,
            shortest: of("shortest"),
            longest: of("longest"),
            how: current.how,
        })
    });
    all.ambients = reader.list("device ambient", |table, row| {
        let ambient = item(table, row, "ambient")?;
        Some(AmbientRow { ambient: ambient.si, ambient_at: ambient.at, factor: item(table, row, "factor")? })
    });
    all.unsure = reader.unsure;
    all.failed = reader.failed;
    let rows = all.rows.iter().map(|line| &line.of).enumerate().map(|of| (0, of));
    let bands = all.bands.iter().map(|line| &line.of).enumerate().map(|of| (1, of));
    let ambients = all.ambients.iter().map(|line| &line.of).enumerate().map(|of| (2, of));
    let mut index: HashMap<Name, [Vec<usize>; 3]> = HashMap::new();
    for (list, (n, of)) in rows.chain(bands).chain(ambients) {
        index.entry(of.clone()).or_default()[list].push(n);
    }
    all.index = index;
    devices_hold(&all, out);
    bands_hold(&all, out);
    ambients_hold(&all, out);
    types_exist(&all, out);
    all
}

struct Reader<'a> {
    sources: &'a Sources,
    folder: &'a Folder,
    out: &'a mut Problems,
    failed: HashSet<Name>,
    unsure: bool,
}

impl Reader<'_> {
    /// The rows of a list; those of the folder for a type take the place of all shipped ones for it.
    fn list<T>(&mut self, key: &str, read: impl Fn(&TableSpec, &SheetRow) -> Option<T>) -> Vec<Line<T>> {
        let table = fields::table(key).expect("the table of fields has every list");
        let number = LISTS.iter().position(|(_, of)| *of == key);
        let mut all: Vec<Line<T>> = Vec::new();
        for files in [&self.folder.shipped_lists, &self.folder.lists] {
            let mut found: Vec<Line<T>> = Vec::new();
            for (_, file) in files.iter().filter(|(of, _)| Some(*of) == number) {
                let (failed, unsure) = (&mut self.failed, &mut self.unsure);
                sheet::read(self.sources, *file, table, self.out, &mut |_, row, _| {
                    let of = text(table, &row, "type");
                    let value = if has_fault(&row) { None } else { read(table, &row) };
                    match (of, value) {
                        (Some((of, of_at)), Some(value)) => {
                            found.push(Line { of, of_at, row: value, source: source_and_note(table, &row), at: row.at });
                        }
                        (Some((of, _)), None) => drop(failed.insert(of)),
                        (None, _) => *unsure = true,
                    }
                });
            }
            let own: HashSet<&Name> = found.iter().map(|line| &line.of).collect();
            all.retain(|old| !own.contains(&old.of));
            all.append(&mut found);
        }
        all
    }
}

fn contradiction(at: Span, message: String, help: &str) -> Diagnostic {
    Diagnostic::error(codes::CONTRADICTION, at, "", message).help(help)
}

fn of_rating(rating: Option<f64>) -> String {
    rating.map_or(String::new(), |rating| format!(" of {}", quantity::show(rating, Quantity::Current)))
}

/// A rating as a key: bits of the number, or every rating.
fn key(rating: Option<f64>) -> Option<u64> {
    rating.map(f64::to_bits)
}

type Pick = fn(&DeviceRow) -> &Option<Item>;

/// Values of a type with their names.
const VALUES: [(&str, Pick); 5] = [
    ("what it holds", |row| &row.holds),
    ("the ultimate trip", |row| &row.ultimate),
    ("the interrupting capacity", |row| &row.interrupts),
    ("the limit", |row| &row.limits),
    ("the resistance", |row| &row.ohms[1]),
];

/// A type is of one kind, states each value once, and its values agree.
fn devices_hold(all: &Devices, out: &mut Problems) {
    let mut kinds: HashMap<&Name, (ProtectorKind, Span)> = HashMap::new();
    let mut values: HashMap<(&Name, Option<u64>, &str), &Item> = HashMap::new();
    for line in &all.rows {
        let DeviceRow { kind, kind_at, rating, limits, ohms, .. } = &line.row;
        let (first, first_at) = *kinds.entry(&line.of).or_insert((*kind, *kind_at));
        if first != *kind {
            let message = format!("{} is a {} here and a {} before", line.of, kind.word(), first.word());
            out.push(contradiction(*kind_at, message, "a type has one kind").note(first_at, "before"));
        }
        for (word, pick) in VALUES {
            let Some(value) = pick(&line.row) else { continue };
            match values.get(&(&line.of, key(*rating), word)) {
                Some(first) => out.push(twice(value.at, first.at, format!("{word} of {}{}", line.of, of_rating(*rating)))),
                None => drop(values.insert((&line.of, key(*rating), word), value)),
            }
        }
        if let Some(limits) = limits
            && *kind != ProtectorKind::Limiter
        {
            let message = format!("{} is a {} and limits nothing", line.of, kind.word());
            out.push(Diagnostic::error(codes::NOT_FOR_THIS_KIND, limits.at, "", message).help("leave the cell empty"));
        }
        let [low, typical, high] = ohms;
        let message = || format!("{}: resistances are not in the order least, typical, greatest", line.of);
        match typical {
            Some(typical) => {
                let wrong = [low.as_ref().filter(|low| low.si > typical.si), high.as_ref().filter(|high| high.si < typical.si)];
                for end in wrong.into_iter().flatten() {
                    out.push(Diagnostic::error(codes::SPREAD_ORDER, end.at, "", message()).note(typical.at, "typical"));
                }
            }
            None => {
                if let Some(end) = low.as_ref().or(high.as_ref()) {
                    let message = format!("{} has an end of its resistance and no resistance", line.of);
                    out.push(Diagnostic::error(codes::MISSING_KEY, end.at, "", message).help("write ohms_mohm, the typical one"));
                }
            }
        }
    }
    // What a type holds against what opens it, once for each rating that states both.
    let mut told = HashSet::new();
    for line in &all.rows {
        let of = (&line.of, key(line.row.rating));
        let of_value = |word| values.get(&(of.0, of.1, word)).or_else(|| values.get(&(of.0, None, word))).copied();
        let (Some(held), Some(opens)) = (of_value(VALUES[0].0), of_value(VALUES[1].0)) else { continue };
        if held.si > opens.si && told.insert((held.at, opens.at)) {
            let show = |item: &Item| quantity::show(item.si, Quantity::Share);
            let message =
                format!("{}{} holds {} for good and has to open at {}", line.of, of_rating(line.row.rating), show(held), show(opens));
            out.push(contradiction(opens.at, message, "the ultimate trip is not below what it holds").note(held.at, "holds"));
        }
    }
}

type PickTime = fn(&BandRow) -> &Option<Item>;

const TIMES: [(&str, PickTime); 2] = [("shortest", |row| &row.shortest), ("longest", |row| &row.longest)];

/// Points of a band rise in current, their times do not, and the shortest is not above the longest.
fn bands_hold(all: &Devices, out: &mut Problems) {
    let percent = |multiple: f64| quantity::show(multiple, Quantity::Share);
    let time = |item: &Item| quantity::show(item.si, Quantity::Duration);
    let held: HashMap<(&Name, Option<u64>), &Item> =
        all.rows.iter().filter_map(|line| Some(((&line.of, key(line.row.rating)), line.row.holds.as_ref()?))).collect();
    /// The last point of a band, and the last that states each time.
    type Last<'a> = (&'a BandRow, [Option<&'a BandRow>; 2]);
    let mut bands: HashMap<(&Name, Option<u64>, u64), Last> = HashMap::new();
    for line in &all.bands {
        let row = &line.row;
        if row.shortest.is_none() && row.longest.is_none() {
            let message = format!("the point of {} at {} has no time", line.of, percent(row.multiple));
            out.push(Diagnostic::error(codes::MISSING_KEY, line.at, "", message).help("fill shortest_s, longest_s or both"));
        }
        if let (Some(shortest), Some(longest)) = (&row.shortest, &row.longest)
            && shortest.si > longest.si
        {
            let (least, most) = (time(shortest), time(longest));
            let message = format!("{} at {} holds {least} at least and has opened by {most}", line.of, percent(row.multiple));
            out.push(contradiction(shortest.at, message, "are the two columns exchanged?").note(longest.at, "longest"));
        }
        let rated = [key(row.rating), None].into_iter().find_map(|rating| held.get(&(&line.of, rating)));
        if let (Some(held), Some(longest)) = (rated.filter(|_| row.ambient == RATED_AT.0), &row.longest)
            && row.multiple <= held.si
        {
            let message = format!("{} opens at {}, which it holds for good", line.of, percent(row.multiple));
            let help = "leave the longest time out, or correct what it holds in devices.csv";
            out.push(contradiction(longest.at, message, help).note(held.at, "holds"));
        }
        let (last, stated) = bands.entry((&line.of, key(row.rating), row.ambient.to_bits())).or_insert((row, [None; 2]));
        if last.multiple_at != row.multiple_at {
            if row.multiple == last.multiple {
                out.push(twice(row.multiple_at, last.multiple_at, format!("the point of {} at {}", line.of, percent(row.multiple))));
                continue;
            }
            if row.multiple < last.multiple {
                let message = format!("{}: {} stands behind {}", line.of, percent(row.multiple), percent(last.multiple));
                let help = "write the points of a band by rising current";
                out.push(contradiction(row.multiple_at, message, help).note(last.multiple_at, "before"));
                continue;
            }
        }
        *last = row;
        for ((word, pick), stated) in TIMES.into_iter().zip(stated) {
            let Some(now) = pick(row) else { continue };
            if let Some((before, then)) = stated.and_then(|before| Some((before, pick(before).as_ref()?)))
                && now.si > then.si
            {
                let (from, to) = (percent(before.multiple), percent(row.multiple));
                let message = format!("{}: the {word} time rises from {} at {from} to {} at {to}", line.of, time(then), time(now));
                out.push(contradiction(now.at, message, "more current opens it no later").note(then.at, "before"));
            }
            *stated = Some(row);
        }
    }
}

/// Ambients of a type's shift rise, and there are two at least.
fn ambients_hold(all: &Devices, out: &mut Problems) {
    let show = |ambient: f64| quantity::show(ambient, Quantity::Temperature);
    let mut last: HashMap<&Name, &AmbientRow> = HashMap::new();
    for line in &all.ambients {
        let row = &line.row;
        let is_alone = all.index.get(&line.of).is_some_and(|of| of[2].len() == 1);
        if is_alone && !all.may_have(&line.of) {
            let message = format!("{} has one ambient, which says nothing of its shift", line.of);
            out.push(contradiction(line.at, message, "write a row for another ambient, or take this one away"));
        }
        if let Some(before) = last.insert(&line.of, row) {
            if before.ambient == row.ambient {
                out.push(twice(row.ambient_at, before.ambient_at, format!("the factor of {} at {}", line.of, show(row.ambient))));
            } else if before.ambient > row.ambient {
                let message = format!("{}: {} stands behind {}", line.of, show(row.ambient), show(before.ambient));
                let help = "write the ambients of a type by rising temperature";
                out.push(contradiction(row.ambient_at, message, help).note(before.ambient_at, "before"));
            }
        }
    }
}

/// Each band and shift is of a type that `devices.csv` has; the first row of a type that it has not says so.
fn types_exist(all: &Devices, out: &mut Problems) {
    let bands = all.bands.iter().map(|line| (&line.of, line.of_at, "a band"));
    let ambients = all.ambients.iter().map(|line| (&line.of, line.of_at, "a shift of ambient"));
    let rows_of = |of: &Name| all.index.get(of).map_or(0, |rows| rows[1].len() + rows[2].len());
    let mut told: HashSet<(&Name, &str)> = HashSet::new();
    for (of, at, what) in bands.chain(ambients) {
        let is_known = all.index.get(of).is_some_and(|rows| !rows[0].is_empty());
        if is_known || all.may_have(of) || !told.insert((of, what)) {
            continue;
        }
        let diagnostic = Diagnostic::error(codes::UNKNOWN_DEVICE, at, "", format!("{of} has {what} and no row in devices.csv"));
        let types = all.types();
        let diagnostic = match out.closest(of, types.iter().copied()) {
            // One replacement would leave the other rows of that name as they are.
            Some(meant) if rows_of(of) == 1 => diagnostic.help(format!("did you mean {meant}?")).replace(at, meant),
            Some(meant) => diagnostic.help(format!("{meant} has one; if it is meant, write {meant} in all {} rows", rows_of(of))),
            None => diagnostic.help("add a row for the type to catalog/devices.csv, with its kind"),
        };
        out.push(diagnostic);
    }
}
