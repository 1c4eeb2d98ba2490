//! Types of breaker, fuse and limiter in the ratings that protectors have, and what the profile says of protection.

use super::{Build, Who, requote};
use crate::catalog::{DeviceRow, How, Item, OfType};
use crate::codes;
use crate::quantity::{self, Quantity};
use crate::value::{Row, Value};
use model::*;
use physics::trip::{Band, Device, Met, Point};
use physics::*;

/// The type of a protector, and its resistance where the type states one.
pub(super) struct DeviceOf {
    pub(super) device: Given<Id<DeviceType>>,
    pub(super) ohms: Option<Spread<Ohm>>,
}

/// Reads a number of the profile.
type Limit<'a> = dyn FnMut(&'static str, Quantity, &mut Build) -> Option<Given<f64>> + 'a;

impl Build {
    /// The type that a protector names, in its rating, with the resistance of that type. `None` without a type or a rating; what is wrong with the
    /// type's name is said all the same.
    pub(super) fn device_type(&mut self, row: &Row, kind: ProtectorKind, rating: Option<Given<Ampere>>, who: &Who) -> Option<DeviceOf> {
        self.open_word(row, "device", who);
        let named = self.named(row, "device", who)?;
        let catalog = std::mem::take(&mut self.catalog.devices);
        let found = self.device_of(&catalog, row, kind, rating, &named);
        self.catalog.devices = catalog;
        found.map(|(device, ohms)| DeviceOf { device: Given { value: device, at: named.at, note: named.note }, ohms })
    }

    fn device_of(
        &mut self,
        catalog: &crate::catalog::Devices,
        row: &Row,
        kind: ProtectorKind,
        rating: Option<Given<Ampere>>,
        named: &Given<Name>,
    ) -> Option<(Id<DeviceType>, Option<Spread<Ohm>>)> {
        let of = catalog.of(&named.value);
        let Some(first) = of.rows.first() else {
            if !catalog.may_have(&named.value) {
                self.no_such_device(catalog, named);
            }
            return None;
        };
        if first.row.kind != kind {
            let message = format!("{} names {}, which is a {}", row.words(), named.value, first.row.kind.word());
            self.out.push(
                Diagnostic::error(codes::NOT_FOR_THIS_KIND, named.at, "device", message).note(first.at, "the type").help(format!(
                    "name a type of {}, or write the row as [{}.{}]",
                    kind.word(),
                    first.row.kind.word(),
                    row.name
                )),
            );
            return None;
        }
        let rating = rating?.value;
        let known = self.design.device_types.iter().find(|(_, known)| known.name == named.value && known.trip.rating == rating);
        let device = match known {
            Some((id, _)) => id,
            None => {
                let made = self.made(&of, &named.value, rating);
                self.design.device_types.push(made)
            }
        };
        let ohms = self.ohms_of(&of.rows.iter().map(|line| &line.row).collect::<Vec<_>>(), device, rating);
        Some((device, ohms))
    }

    fn no_such_device(&mut self, catalog: &crate::catalog::Devices, named: &Given<Name>) {
        let message = format!("the catalog has no breaker, fuse or limiter {}", named.value);
        let diagnostic = Diagnostic::error(codes::UNKNOWN_DEVICE, named.at, "", message);
        let types = catalog.types();
        let diagnostic = match self.out.closest(&named.value, types.iter().copied()) {
            Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(named.at, requote(&self.sources, named.at, meant)),
            None => diagnostic.help(format!("types: {}; more may be added in catalog/devices.csv", types.join(", "))),
        };
        self.out.push(diagnostic);
    }

    /// A type in a rating: its own values, those for every rating, or in multiples those of the nearest rating.
    fn made(&mut self, of: &OfType, name: &Name, rating: Ampere) -> DeviceType {
        let at = of.rows.first().map_or(self.design.profile.at, |line| line.at);
        let mut made = DeviceType {
            name: name.clone(),
            trip: Device { rating, holds: None, ultimate: None, bands: Vec::new(), ambients: Vec::new() },
            shape_of: None,
            interrupts: None,
            limits: None,
            notes: Vec::new(),
            shift: None,
            stated: Vec::new(),
            sources: Vec::new(),
            at,
        };
        let mut source_of = |source: &String, at: Span| {
            if !source.is_empty() && !made.sources.contains(source) {
                made.sources.push(source.clone());
            }
            self.design.catalog_sources.push((at, source.clone()));
        };
        of.rows.iter().for_each(|line| source_of(&line.source, line.at));
        of.bands.iter().for_each(|line| source_of(&line.source, line.at));
        of.ambients.iter().for_each(|line| source_of(&line.source, line.at));

        let who = format!("{name} {}", quantity::show(rating.0, Quantity::Current));
        // What is scaled from another rating.
        let mut scaled: Option<(Ampere, Span)> = None;
        type Pick = fn(&DeviceRow) -> &Option<Item>;
        let multiples: [(&str, &'static str, Pick); 3] = [
            ("what it holds", "holds", |row| &row.holds),
            ("ultimate trip", "ultimate", |row| &row.ultimate),
            ("limit", "limits", |row| &row.limits),
        ];
        for (n, (word, field, pick)) in multiples.into_iter().enumerate() {
            let stated: Vec<_> = of.rows.iter().filter_map(|line| Some((line.row.rating, line, pick(&line.row).as_ref()?))).collect();
            let Some((from, line, item)) = nearest(rating, stated, |of| of.0) else { continue };
            if let Some(from) = from {
                scaled = Some((from, item.at));
            }
            let note = self.device_note(format!("{word} of {who}"), field, Quantity::Share, item, &line.source);
            made.notes.extend(note);
            made.stated.push((word.to_owned(), Given { value: item.si * 100.0, at: item.at, note }, "%"));
            match n {
                0 => made.trip.holds = Some(item.si),
                1 => made.trip.ultimate = Some(item.si),
                _ => made.limits = Some(Given { value: rating * item.si, at: item.at, note }),
            }
        }
        // An interrupting capacity is of its own rating, or of all.
        let stated = of.rows.iter().filter(|line| line.row.rating.is_none_or(|of| of == rating.0));
        let stated: Vec<_> = stated.filter_map(|line| Some((line, line.row.interrupts.as_ref()?))).collect();
        if let Some((line, item)) = stated.iter().find(|(line, _)| line.row.rating.is_some()).or(stated.first()) {
            let note = self.device_note(format!("interrupting capacity of {who}"), "interrupts", Quantity::Current, item, &line.source);
            made.interrupts = Some(Given { value: Ampere(item.si), at: item.at, note });
            made.stated.push(("interrupting capacity".to_owned(), Given { value: item.si, at: item.at, note }, "A"));
        }
        if let Some((from, line, _)) = nearest(rating, of.bands.iter().map(|line| (line.row.rating, line, ())).collect(), |of| of.0) {
            let band_rating = line.row.rating;
            if let Some(from) = from {
                scaled = Some((from, line.at));
            }
            self.bands_of(of, band_rating, &who, &mut made);
        }
        if let Some((from, at)) = scaled {
            made.shape_of = Some(from);
            let note = self.note(Note {
                standing: Standing::Assumed,
                what: format!("shape of the band of {who}"),
                value: format!("that of {} in multiples of the rating", quantity::show(from.0, Quantity::Current)),
                source: "the catalog has no row of this rating; common practice, no source".to_owned(),
                at,
                subject: None,
                field: "rating",
                owner: None,
                need: None,
            });
            made.notes.push(note);
        }
        for line in &of.ambients {
            let ambient = quantity::show(line.row.ambient, Quantity::Temperature);
            let note = self.device_note(format!("factor of {who} at {ambient}"), "factor", Quantity::Share, &line.row.factor, &line.source);
            made.notes.extend(note);
            made.stated.push((
                format!("factor at {ambient}"),
                Given { value: line.row.factor.si * 100.0, at: line.row.factor.at, note },
                "%",
            ));
            made.trip.ambients.push((Kelvin(line.row.ambient), line.row.factor.si));
        }
        made
    }

    /// Bands of a type that are stated for one rating, or for all.
    fn bands_of(&mut self, of: &OfType, rating: Option<f64>, who: &str, made: &mut DeviceType) {
        let lines: Vec<_> = of.bands.iter().filter(|line| line.row.rating == rating).collect();
        let mut ambients: Vec<f64> = lines.iter().map(|line| line.row.ambient).collect();
        ambients.sort_by(f64::total_cmp);
        ambients.dedup();
        for ambient in ambients {
            let points: Vec<_> = lines.iter().filter(|line| line.row.ambient == ambient).collect();
            let at_words = quantity::show(ambient, Quantity::Temperature);
            let loose = points.iter().filter(|line| line.row.how != How::Firm);
            for how in [How::Recalled, How::Practice] {
                let Some(line) = loose.clone().find(|line| line.row.how == how) else { continue };
                let at: Vec<String> = loose
                    .clone()
                    .filter(|line| line.row.how == how)
                    .map(|line| quantity::show(line.row.multiple, Quantity::Share))
                    .collect();
                let note = self.note(Note {
                    standing: if how == How::Practice { Standing::Assumed } else { Standing::Recalled },
                    what: format!("trip times of {who} at {at_words}"),
                    value: format!("at {}", at.join(", ")),
                    source: line.source.clone(),
                    at: line.at,
                    subject: None,
                    field: "current",
                    owner: None,
                    need: None,
                });
                made.notes.push(note);
            }
            for line in &points {
                for (word, item) in [("shortest", &line.row.shortest), ("longest", &line.row.longest)] {
                    if let Some(item) = item {
                        let what = format!("{word} time at {} and {at_words}", quantity::show(line.row.multiple, Quantity::Share));
                        // The note of the band speaks for each of its points.
                        let note = made.notes.last().copied().filter(|_| item.how != How::Firm);
                        made.stated.push((what, Given { value: item.si, at: item.at, note }, "s"));
                    }
                }
            }
            let points = points.iter().map(|line| Point {
                multiple: line.row.multiple,
                shortest: line.row.shortest.as_ref().map(|item| Second(item.si)),
                longest: line.row.longest.as_ref().map(|item| Second(item.si)),
            });
            made.trip.bands.push(Band { ambient: Kelvin(ambient), points: points.collect() });
        }
    }

    /// Resistance of a type: that of the rating, or of every rating.
    fn ohms_of(&mut self, rows: &[&DeviceRow], device: Id<DeviceType>, rating: Ampere) -> Option<Spread<Ohm>> {
        let own = rows.iter().filter(|row| row.rating == Some(rating.0));
        let all = rows.iter().filter(|row| row.rating.is_none());
        let row = own.chain(all).find(|row| row.ohms[1].is_some())?;
        let [low, typical, high] = &row.ohms;
        let typical = typical.as_ref()?;
        let (name, source) = {
            let device = &self.design.device_types[device];
            (device.name.clone(), device.sources.join("; "))
        };
        let note = self.device_note(format!("resistance of {name}"), "ohms", Quantity::Resistance, typical, &source);
        let given = |item: &Item| Given { value: Ohm(item.si), at: item.at, note };
        let end = |item: &Option<Item>| given(item.as_ref().unwrap_or(typical));
        Some(Spread { low: end(low), typical: given(typical), high: end(high) })
    }

    fn device_note(&mut self, what: String, field: &'static str, quantity: Quantity, item: &Item, source: &str) -> Option<NoteId> {
        let standing = match item.how {
            How::Firm => return None,
            How::Recalled => Standing::Recalled,
            How::Practice => Standing::Assumed,
        };
        let value = quantity::show(item.si, quantity);
        Some(self.note(Note {
            standing,
            what,
            value,
            source: source.to_owned(),
            at: item.at,
            subject: None,
            field,
            owner: None,
            need: None,
        }))
    }

    /// Notes where a phase is colder or hotter than all that the maker of a device says: call it after the phases.
    pub(super) fn device_shifts(&mut self) {
        let ids: Vec<Id<DeviceType>> = self.design.device_types.iter().map(|(id, _)| id).collect();
        for id in ids {
            let device = &self.design.device_types[id];
            let ambients = self.design.phases.iter().flat_map(|(_, phase)| [phase.ambient.low.value, phase.ambient.high.value]);
            let Some(beyond) = ambients.into_iter().find(|ambient| device.trip.met(*ambient) == Some(Met::Shifted)) else { continue };
            let (what, at) = (format!("{} {}", device.name, quantity::show(device.trip.rating.0, Quantity::Current)), device.at);
            let law = match device.trip.ambients.is_empty() {
                true => "currents move by √((155 degC − T)/130 K)",
                false => "the factor of the maker's last row is held",
            };
            let note = self.note(Note {
                standing: Standing::Assumed,
                what: format!("trip times of {what} at {}", quantity::show(beyond.0, Quantity::Temperature)),
                value: law.to_owned(),
                source: "the maker has no band at this ambient; common practice, no source".to_owned(),
                at,
                subject: None,
                field: "ambient",
                owner: None,
                need: None,
            });
            self.design.device_types[id].shift = Some(note);
        }
    }

    /// What the profile says of protection; `limit` reads one of its numbers.
    pub(super) fn protection_limits(&mut self, row: &Row, limit: &mut Limit) -> ProtectionLimits {
        const ARC: [&str; 3] = ["arc_voltage_low", "arc_voltage", "arc_voltage_high"];
        let clears_within = limit("clears_within", Quantity::Duration, self).map(|g| g.map(Second));
        let [breaker_share, fuse_share, limiter_share] =
            ["breaker_share", "fuse_share", "limiter_share"].map(|field| limit(field, Quantity::Share, self).map(|g| g.map(Ratio)));
        let [low, typical, high] = ARC.map(|field| limit(field, Quantity::Voltage, self).map(|g| g.map(Volt)));
        let inductance_per_metre = limit("inductance_per_metre", Quantity::InductancePerLength, self);
        let damage_share = limit("damage_share", Quantity::Share, self).map(|g| g.map(Ratio));
        let essential_tier = match row.cell("essential_tier") {
            Some(cell) => match cell.value {
                Value::Count(tier) => Some(Given::firm(tier, cell.at)),
                _ => None,
            },
            None => None,
        };
        let arc = typical.map(|typical| Spread { low: low.unwrap_or(typical), typical, high: high.unwrap_or(typical) });
        match arc {
            None => {
                if let Some(end) = low.or(high) {
                    let message = format!("profile {} has an end of the arc voltage and no arc_voltage", row.name);
                    self.out.push(Diagnostic::error(codes::MISSING_KEY, end.at, "", message).help("add arc_voltage, the typical one"));
                }
            }
            Some(arc) => {
                for (end, word) in [(arc.low, ARC[0]), (arc.high, ARC[2])] {
                    let wrong = if word == ARC[0] { end.value > arc.typical.value } else { end.value < arc.typical.value };
                    if wrong {
                        let message = format!("profile {}: arc voltages are not in the order least, typical, greatest", row.name);
                        self.out.push(Diagnostic::error(codes::SPREAD_ORDER, end.at, word, message).note(arc.typical.at, ARC[1]));
                    }
                }
            }
        }
        ProtectionLimits {
            clears_within,
            breaker_share,
            fuse_share,
            limiter_share,
            arc,
            inductance_per_metre,
            damage_share,
            essential_tier,
        }
    }
}

/// The row of a rating, else one for every rating, else that of the nearest rating, which comes with it; of two as near the smaller counts.
fn nearest<T, U>(
    rating: Ampere,
    rows: Vec<(Option<f64>, T, U)>,
    of: impl Fn(&(Option<f64>, T, U)) -> Option<f64>,
) -> Option<(Option<Ampere>, T, U)> {
    let distance = |row: &(Option<f64>, T, U)| match of(row) {
        Some(own) if own == rating.0 => (0.0, own),
        None => (0.0, f64::INFINITY),
        Some(other) => ((other / rating.0).ln().abs(), other),
    };
    let best = rows.into_iter().min_by(|a, b| {
        let (a, b) = (distance(a), distance(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    })?;
    let from = best.0.filter(|own| *own != rating.0).map(Ampere);
    Some((from, best.1, best.2))
}
