//! Elements: sources, protectors, switches, diodes, converters, loads, sensors, receivers, straps, structure, links.

use super::end::who;
use super::{Build, Who, key_of, protection};
use crate::codes;
use crate::document;
use crate::quantity::{self, Quantity};
use crate::value::{Row, Slot, Value};
use model::*;
use physics::sensor_temperature::{Couple, PLATINUM_ALPHA, rtd_ohms};
use physics::*;

impl Build {
    /// All elements, in the order written.
    pub(super) fn devices(&mut self, rows: &[Row]) {
        self.bus_returns(rows);
        for row in rows.iter().filter(|r| !r.broken) {
            match row.table.key {
                "battery" => self.source(row, SourceKind::Battery),
                "supply" => self.source(row, SourceKind::GroundSupply),
                "breaker" => self.protector(row, ProtectorKind::Breaker),
                "fuse" => self.protector(row, ProtectorKind::Fuse),
                "limiter" => self.protector(row, ProtectorKind::Limiter),
                "switch" => self.switch(row, SwitchKind::Switch),
                "relay" => self.switch(row, SwitchKind::Relay),
                "tie" => self.switch(row, SwitchKind::Tie),
                "diode" => self.diode(row),
                "converter" => self.converter(row),
                "load" => self.load(row),
                "sensor" => self.sensor(row),
                "receiver" => self.receiver(row),
                "excitation" => self.excitation(row),
                "strap" => self.strap(row),
                "structure" => self.structure(row),
                "link" => self.link(row),
                _ => {}
            }
        }
    }

    /// Who an element of the next row of its table is.
    fn element(&self, row: &Row, element: ElementId) -> Who {
        who(row, Subject::Element(element))
    }

    /// Two ends of an element, which must differ.
    fn two_ends(&mut self, row: &Row, first: &'static str, second: &'static str, who: &Who) -> Option<(Given<End>, Given<End>)> {
        let a = self.end(row, first, who);
        let b = self.end(row, second, who);
        let (a, b) = (a?, b?);
        if a.value == b.value {
            self.out.push(
                Diagnostic::error(codes::SAME_END, b.at, second, format!("{} has {first} and {second} on the same point", row.words()))
                    .note(a.at, first)
                    .help("an element joins two different points"),
            );
            return None;
        }
        Some((a, b))
    }

    fn source(&mut self, row: &Row, kind: SourceKind) {
        let who = self.element(row, ElementId::Source(Id::from_row(self.design.batteries.len())));
        let ends = self.two_ends(row, "positive", "negative", &who);
        let emf: Option<Spread<Volt>> = self.spread(row, "emf", &who);
        let ohms: Option<Spread<Ohm>> = self.spread(row, "ohms", &who);
        let rating = self.number(row, "rating", &who);
        let peak: Option<Given<Ampere>> = self.number(row, "peak", &who);
        if let (Some(rating), Some(peak)) = (rating, peak)
            && peak.value < rating.value
        {
            let show = |g: Given<Ampere>| quantity::show(g.value.0, Quantity::Current);
            self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    peak.at,
                    "peak",
                    format!("{}: peak {} is below rating {}", row.words(), show(peak), show(rating)),
                )
                .note(rating.at, "rating")
                .help("what it gives in short spells is at least what it gives without end"),
            );
        }
        let cells = if kind == SourceKind::Battery { self.cells(row, &who) } else { None };
        let Some((positive, negative)) = ends else { return };
        let on = row.word("state") != Some("off");
        self.design.batteries.push(Source {
            name: row.name.clone(),
            kind,
            positive,
            negative,
            emf,
            ohms,
            rating,
            peak,
            cells,
            on,
            at: row.at,
        });
    }

    fn protector(&mut self, row: &Row, kind: ProtectorKind) {
        let who = self.element(row, ElementId::Protector(Id::from_row(self.design.protectors.len())));
        let ends = self.two_ends(row, "line", "load", &who);
        let rating: Option<Given<Ampere>> = self.number(row, "rating", &who);
        let device = self.device_type(row, kind, rating, &who);
        let interrupts = self.number(row, "interrupts", &who);
        let (assumed, why) = match rating {
            Some(rating) => {
                let typical = 0.05 / rating.value.0;
                ([0.5 * typical, typical, 2.0 * typical], "0.05 V at rated current, half to twice; common practice, no source")
            }
            None => ([10e-3; 3], "no rating to take it from; common practice, no source"),
        };
        let ohms = match (self.spread(row, "ohms", &who), &device) {
            (Some(ohms), _) => ohms,
            (None, Some(protection::DeviceOf { ohms: Some(ohms), .. })) => *ohms,
            (None, _) => self.assumed_spread(&who, "ohms", Quantity::Resistance, assumed, why),
        };
        let device = device.map(|of| of.device);
        let Some((line, load)) = ends else { return };
        let closed = row.word("state") != Some("open");
        self.design.protectors.push(Protector {
            name: row.name.clone(),
            kind,
            line,
            load,
            rating,
            ohms,
            device,
            interrupts,
            closed,
            at: row.at,
        });
    }

    fn switch(&mut self, row: &Row, kind: SwitchKind) {
        let who = self.element(row, ElementId::Switch(Id::from_row(self.design.switches.len())));
        let ends = self.two_ends(row, "from", "to", &who);
        let ohms =
            self.spread_or(row, "ohms", &who, Quantity::Resistance, [1e-3, 5e-3, 10e-3], "usual power contact; common practice, no source");
        let ratings = SwitchRatings {
            resistive: self.number(row, "rating_resistive", &who),
            inductive: self.number(row, "rating_inductive", &who),
            lamp: self.number(row, "rating_lamp", &who),
            motor: self.number(row, "rating_motor", &who),
        };
        let leakage = self.number(row, "leakage", &who);
        let one_way = row.cell("one_way").is_some_and(|cell| matches!(cell.value, Value::Flag(true)));
        let drive = row.text("drive").map(|(name, at)| Given::firm(name.clone(), at));
        let Some((from, to)) = ends else { return };
        let closed = row.word("state") != Some("open");
        self.design.switches.push(Switch {
            name: row.name.clone(),
            kind,
            from,
            to,
            ohms,
            ratings,
            drive,
            leakage,
            one_way,
            closed,
            at: row.at,
        });
    }

    fn diode(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Diode(Id::from_row(self.design.diodes.len())));
        let ends = self.two_ends(row, "anode", "cathode", &who);
        let forward = self.spread_or(row, "forward", &who, Quantity::Voltage, [0.7; 3], "usual silicon diode; common practice, no source");
        let ohms = self.spread_or(row, "ohms", &who, Quantity::Resistance, [10e-3; 3], "usual power diode; common practice, no source");
        let Some((anode, cathode)) = ends else { return };
        self.design.diodes.push(Diode { name: row.name.clone(), anode, cathode, forward, ohms, at: row.at });
    }

    fn converter(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Converter(Id::from_row(self.design.converters.len())));
        let input = self.two_ends(row, "line", "return", &who);
        let output = self.two_ends(row, "output", "output_return", &who);
        let emf: Option<Spread<Volt>> = self.spread(row, "emf", &who);
        let ohms: Option<Spread<Ohm>> = self.spread(row, "ohms", &who);
        let efficiency: Option<Given<Ratio>> = self.number(row, "efficiency", &who);
        let quiescent = match self.number(row, "quiescent", &who) {
            Some(given) => given,
            None => {
                let note = self.assumed(&who, "quiescent", "0 W".to_owned(), "no input power without load is stated");
                Given { value: Watt(0.0), at: row.at, note: Some(note) }
            }
        };
        let (drop_out, return_above) = self.drop_out(row, &who);
        let (Some((line, line_return)), Some((output, output_return)), Some(emf), Some(ohms), Some(efficiency)) =
            (input, output, emf, ohms, efficiency)
        else {
            return;
        };
        self.design.converters.push(Converter {
            name: row.name.clone(),
            line,
            line_return,
            output,
            output_return,
            emf,
            ohms,
            efficiency,
            quiescent,
            drop_out,
            return_above,
            on: row.word("state") != Some("off"),
            at: row.at,
        });
    }

    /// The voltages below which something stops and above which it comes back.
    fn drop_out(&mut self, row: &Row, who: &Who) -> (Option<Given<Volt>>, Option<Given<Volt>>) {
        let drop_out: Option<Given<Volt>> = self.number(row, "drop_out", who);
        let return_above: Option<Given<Volt>> = self.number(row, "return_above", who);
        if let (Some(low), Some(high)) = (drop_out, return_above)
            && high.value < low.value
        {
            self.contradiction(
                row,
                ("return_above", high),
                ("drop_out", low),
                "what stops below one voltage comes back at that voltage or above it",
            );
        }
        if let (Some(high), true) = (return_above, row.is_absent("drop_out")) {
            self.out.push(
                Diagnostic::error(codes::NO_EFFECT, high.at, "", format!("{} comes back without ever letting go", row.words()))
                    .help("state drop_out, the voltage below which it lets go, or leave return_above out"),
            );
        }
        (drop_out, return_above)
    }

    /// Two voltages of a row in the wrong order: the first must not be below the second.
    fn contradiction(&mut self, row: &Row, above: (&str, Given<Volt>), below: (&str, Given<Volt>), help: &str) {
        let show = |g: Given<Volt>| quantity::show(g.value.0, Quantity::Voltage);
        self.out.push(
            Diagnostic::error(
                codes::CONTRADICTION,
                above.1.at,
                above.0,
                format!("{}: {} {} is below {} {}", row.words(), above.0, show(above.1), below.0, show(below.1)),
            )
            .note(below.1.at, below.0)
            .help(help),
        );
    }

    fn load(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Load(Id::from_row(self.design.loads.len())));
        let ends = self.two_ends(row, "line", "return", &who);
        let demand = self.demand(row, &who);
        let growth = self.number(row, "growth", &who);
        let duty = match row.text("duty") {
            Some((word, at)) => Given::firm(if &**word == "intermittent" { Duty::Intermittent } else { Duty::Continuous }, at),
            None => Given::firm(Duty::Continuous, row.at),
        };
        let on_time: Option<Given<Second>> = self.number(row, "on_time", &who);
        let period: Option<Given<Second>> = self.number(row, "period", &who);
        self.pulse(row, on_time, period);
        let kind = match row.text("kind") {
            Some((word, at)) => Given::firm(
                match &**word {
                    "inductive" => LoadKind::Inductive,
                    "lamp" => LoadKind::Lamp,
                    "motor" => LoadKind::Motor,
                    _ => LoadKind::Resistive,
                },
                at,
            ),
            None => {
                let note = self.assumed(&who, "kind", "resistive".to_owned(), "no kind of load is stated");
                Given { value: LoadKind::Resistive, at: row.at, note: Some(note) }
            }
        };
        let volts_min: Option<Given<Volt>> = self.number(row, "volts_min", &who);
        let volts_max: Option<Given<Volt>> = self.number(row, "volts_max", &who);
        if let (Some(low), Some(high)) = (volts_min, volts_max)
            && high.value < low.value
        {
            self.contradiction(row, ("volts_max", high), ("volts_min", low), "the greatest voltage is not below the least one");
        }
        let (drop_out, return_above) = self.drop_out(row, &who);
        let pull_in = self.number(row, "pull_in", &who);
        let inrush: Option<Given<Ampere>> = self.number(row, "inrush", &who);
        let inrush_time: Option<Given<Second>> = self.number(row, "inrush_time", &who);
        if let (Some(time), true) = (inrush_time, row.is_absent("inrush")) {
            let message = format!("{} has a time of inrush and no inrush", row.words());
            self.out.push(Diagnostic::error(codes::NO_EFFECT, time.at, "", message).help("state inrush, or leave inrush_time out"));
        }
        let input_capacitance = self.number(row, "input_capacitance", &who);
        let hold_up = self.number(row, "hold_up", &who);
        let volts_transient: Option<Given<Volt>> = self.number(row, "volts_transient", &who);
        if let (Some(steady), Some(moment)) = (volts_max, volts_transient)
            && moment.value < steady.value
        {
            let help = "what it stands for a moment is not below what it stands for good";
            self.contradiction(row, ("volts_transient", moment), ("volts_max", steady), help);
        }
        self.open_word(row, "suppressor", &who);
        let suppressor = row.text("suppressor").and_then(|(word, at)| {
            let suppressor = match &**word {
                "diode" => Suppressor::Diode,
                "zener" => Suppressor::Zener,
                "resistor" => Suppressor::Resistor,
                "none" => Suppressor::None,
                _ => return None,
            };
            Some(Given::firm(suppressor, at))
        });
        let drop_allowed = self.number(row, "drop_allowed", &who);
        let bus = self.reference(row, "bus", "bus").map(|g| g.map(Id::from_row));
        let on_at_least = self.number(row, "on_at_least", &who);
        let off_at_most = self.number(row, "off_at_most", &who);
        let restart = self.restart(row, &who);
        self.turns(row, off_at_most, &restart);
        let switched_by = self.switched_by(row);
        let off_current = self.number(row, "off_current", &who);
        let Some((line, line_return)) = ends else { return };
        self.design.loads.push(Load {
            name: row.name.clone(),
            line,
            line_return,
            demand,
            growth,
            kind,
            duty,
            on_time,
            period,
            volts_min,
            volts_max,
            drop_out,
            return_above,
            pull_in,
            inrush,
            inrush_time,
            input_capacitance,
            hold_up,
            volts_transient,
            suppressor,
            drop_allowed,
            bus,
            on_at_least,
            off_at_most,
            restart,
            switched_by,
            off_current,
            on: row.word("state") != Some("off"),
            at: row.at,
        });
    }

    /// What commands a load.
    fn switched_by(&mut self, row: &Row) -> Vec<Given<ElementId>> {
        self.once_each(row, "switched_by");
        let mut found = Vec::new();
        for (at, words) in row.list("switched_by").to_vec() {
            let Some((element, kind)) = self.element_of(&words, at) else { continue };
            match element {
                ElementId::Switch(_) | ElementId::Protector(_) => found.push(Given::firm(element, at)),
                _ => self.out.push(
                    Diagnostic::error(codes::BAD_STATE, at, "", format!("a {kind} switches no load"))
                        .help("name switches, relays, ties, breakers, fuses or limiters"),
                ),
            }
        }
        if let Some(cell) = row.cell("off_current").filter(|_| row.is_absent("switched_by")) {
            let message = format!("load {} has an off_current, and nothing switches it", row.name);
            self.out.push(
                Diagnostic::error(codes::NO_EFFECT, cell.at, "", message).help("name what commands it under switched_by, or leave it out"),
            );
        }
        found
    }

    /// When a load comes on again; a condition says that it does.
    fn restart(&mut self, row: &Row, who: &Who) -> Restart {
        let stated = row.text("restart").map(|(word, at)| Given::firm(&**word != "no", at));
        let on_command = row.text("restart").is_some_and(|(word, _)| &**word == "command");
        let above: Option<Given<Kelvin>> = self.number(row, "restart_above", who);
        let volts: Option<Given<Volt>> = self.number(row, "restart_volts", who);
        let conditions = [above.map(|g| g.at), volts.map(|g| g.at)];
        if let (Some(Given { value: false, .. }), Some(at)) = (stated, conditions.into_iter().flatten().next()) {
            let message = format!("{} does not come on again, and a condition for it is stated", row.words());
            self.out.push(Diagnostic::error(codes::NO_EFFECT, at, "", message).help("take restart = \"no\" or the condition away"));
        }
        let conditional = conditions.into_iter().flatten().next().map(|at| Given::firm(true, at));
        Restart { can: stated.or(conditional), on_command, above, volts }
    }

    /// What may be off for so long at most has to come on again.
    fn turns(&mut self, row: &Row, off_at_most: Option<Given<Second>>, restart: &Restart) {
        let is_open = ["restart_above", "restart_volts"].iter().any(|key| !row.is_absent(key));
        let comes_on = restart.can.map_or(is_open, |can| can.value);
        if let (Some(time), false) = (off_at_most, comes_on) {
            let message = format!("{} has a longest time off, and nothing says that it comes on again", row.words());
            self.out
                .push(Diagnostic::error(codes::NO_EFFECT, time.at, "", message).help("state restart = \"yes\", or leave off_at_most out"));
        }
    }

    /// A pulse is not longer than its period, and has a length.
    fn pulse(&mut self, row: &Row, on_time: Option<Given<Second>>, period: Option<Given<Second>>) {
        let show = |g: Given<Second>| quantity::show(g.value.0, Quantity::Duration);
        match (on_time, period) {
            (Some(on), Some(period)) if on.value > period.value => self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    on.at,
                    "on_time",
                    format!("{}: on_time {} is longer than period {}", row.words(), show(on), show(period)),
                )
                .note(period.at, "period")
                .help("the period goes from the beginning of one pulse to that of the next; a load without pause states neither"),
            ),
            (None, Some(period)) if row.is_absent("on_time") => self.out.push(
                Diagnostic::error(codes::MISSING_KEY, period.at, "", format!("{} has a period and no on_time", row.words()))
                    .help("add for example on_time = \"50 ms\": how long it draws in each period"),
            ),
            _ => {}
        }
    }

    fn demand(&mut self, row: &Row, who: &Who) -> Option<Demand> {
        const LAWS: [&str; 3] = ["power", "current", "resistance"];
        let stated: Vec<&'static str> = LAWS.into_iter().filter(|key| !row.is_absent(key)).collect();
        match stated[..] {
            ["power"] => self.spread(row, "power", who).map(Demand::Power),
            ["current"] => self.spread(row, "current", who).map(Demand::Current),
            [_] => self.spread(row, "resistance", who).map(Demand::Resistance),
            [] => {
                self.out.push(
                    Diagnostic::error(codes::EXACTLY_ONE, row.at, "", format!("{} says nothing of what it draws", row.words()))
                        .help("add one of power, current and resistance; TBD is allowed: power = \"TBD\""),
                );
                None
            }
            [first, second, ..] => {
                let at = |key: &str| match row.slot(key) {
                    Slot::Good(cell) => cell.at,
                    _ => row.at,
                };
                self.out.push(
                    Diagnostic::error(codes::EXACTLY_ONE, at(second), second, format!("{} has {}", row.words(), stated.join(" and ")))
                        .note(at(first), first)
                        .help("a load follows one law: keep one of power, current and resistance"),
                );
                None
            }
        }
    }

    fn sensor(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Sensor(Id::from_row(self.design.sensors.len())));
        let receiver = self.reference(row, "receiver", "receiver").map(|g| g.map(Id::from_row));
        let reading = self.number(row, "reading", &who).unwrap_or(Given::firm(Ratio(0.0), row.at));
        let allowance = self.number(row, "allowance", &who);
        let Some(kind) = row.word("kind").map(str::to_owned) else { return };
        // Keys that this kind does not have, and those it needs.
        for (field, slot) in row.table.fields.iter().zip(&row.slots) {
            let belongs = field.only.split(", ").any(|k| k == kind);
            match slot {
                Slot::Good(cell) if !field.only.is_empty() && !belongs => self.out.push(
                    Diagnostic::error(codes::NOT_FOR_THIS_KIND, cell.at, "", format!("a {kind} sensor has no {}", field.key))
                        .help(format!("{} belongs to the kind {}", field.key, field.only)),
                ),
                Slot::Absent if belongs && field.default.is_empty() => {
                    let diagnostic = document::missing_key(row, field);
                    self.out.push(diagnostic);
                }
                _ => {}
            }
        }
        let law = match kind.as_str() {
            "bridge" => self.bridge(row, &who),
            "resistance" => self.resistive(row, &who),
            "rtd" => self.rtd(row, &who),
            "thermocouple" => self.thermocouple(row, &who),
            "potentiometer" => self.potentiometer(row, &who),
            "current-loop" => self.current_loop(row, &who),
            _ => self.voltage(row, &who),
        };
        let Some(law) = law else { return };
        self.readable(row, &law, reading);
        self.design.sensors.push(Sensor { name: row.name.clone(), law, receiver, reading, allowance, at: row.at });
    }

    fn bridge(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let excitation = self.two_ends(row, "excitation_positive", "excitation_negative", who);
        let signal = self.two_ends(row, "signal_positive", "signal_negative", who);
        let arm = self.number(row, "arm_ohms", who);
        let sensitivity = self.number(row, "sensitivity", who);
        let volts = self.excited_by(row, Quantity::Voltage, who);
        let ((excitation_positive, excitation_negative), (signal_positive, signal_negative)) = (excitation?, signal?);
        Some(SensorLaw::Bridge {
            excitation_positive,
            excitation_negative,
            signal_positive,
            signal_negative,
            arm: arm?,
            sensitivity: sensitivity?,
            excitation: volts?,
        })
    }

    fn resistive(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let zero = self.number(row, "zero_ohms", who);
        let full = self.number(row, "full_ohms", who);
        let excitation = self.excited_by(row, Quantity::Current, who);
        let (positive, negative) = ends?;
        Some(SensorLaw::Resistance { positive, negative, zero: zero?, full: full?, excitation: excitation? })
    }

    fn voltage(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let full = self.number(row, "full", who);
        let ohms = self.number(row, "source_ohms", who);
        let (positive, negative) = ends?;
        Some(SensorLaw::Voltage { positive, negative, full: full?, ohms: ohms? })
    }

    fn rtd(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let sense_positive = self.end(row, "sense_positive", who);
        let sense_negative = self.end(row, "sense_negative", who);
        let r0 = self.number(row, "ice_point_ohms", who);
        let alpha = match self.number(row, "alpha", who) {
            Some(given) => given,
            None => {
                let alpha = PLATINUM_ALPHA;
                let note = self.note(Note {
                    standing: Standing::Recalled,
                    what: format!("alpha of sensor {}", row.name),
                    value: quantity::show(alpha.0, Quantity::TemperatureCoefficient),
                    source: "IEC 60751, mean slope from 0 to 100 degC".to_owned(),
                    at: row.at,
                    subject: Some(who.subject),
                    field: "alpha",
                    owner: None,
                    need: None,
                });
                Given { value: alpha, at: row.at, note: Some(note) }
            }
        };
        let range = self.temperature_range(row, who);
        let excitation = self.excited_by(row, Quantity::Current, who);
        let wires = row.cell("wires").and_then(|cell| match cell.value {
            Value::Count(n) => Some((n, cell.at)),
            _ => None,
        });
        let (wires, wires_at) = wires?;
        let mut fits = true;
        for (key, least) in [("sense_positive", 4), ("sense_negative", 3)] {
            match row.slot(key) {
                Slot::Absent if wires >= least => {
                    self.out.push(
                        Diagnostic::error(codes::MISSING_KEY, wires_at, "", format!("{} with {wires} wires has no {key}", row.words()))
                            .help(format!("add {key}, the pin of the lead that senses; or state the number of wires that it has")),
                    );
                    fits = false;
                }
                Slot::Good(cell) if wires < least => {
                    self.out.push(
                        Diagnostic::error(codes::NOT_FOR_THIS_KIND, cell.at, "", format!("an RTD of {wires} wires has no {key}"))
                            .note(wires_at, "wires")
                            .help("3 wires have sense_negative, 4 have both"),
                    );
                    fits = false;
                }
                _ => {}
            }
        }
        for sense in [sense_positive, sense_negative].into_iter().flatten() {
            let Some((positive, negative)) = ends else { break };
            for other in [positive, negative] {
                if sense.value == other.value {
                    self.out.push(
                        Diagnostic::error(
                            codes::SAME_END,
                            sense.at,
                            "sense lead",
                            format!("{} senses on the point of a current lead", row.words()),
                        )
                        .note(other.at, "current lead")
                        .help("each lead has a pin of its own"),
                    );
                    fits = false;
                }
            }
        }
        let ((positive, negative), (zero, full)) = (ends?, range?);
        let law =
            SensorLaw::Rtd { positive, negative, sense_positive, sense_negative, r0: r0?, alpha, zero, full, excitation: excitation? };
        fits.then_some(law)
    }

    fn thermocouple(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let couple = row.text("type").and_then(|(letter, at)| Some(Given::firm(Couple::of(letter)?, at)));
        let range = self.temperature_range(row, who);
        let cold = self.number(row, "cold_junction", who);
        let cold_positive = self.end(row, "cold_positive", who);
        let cold_negative = self.end(row, "cold_negative", who);
        let ohms = self.number(row, "source_ohms", who);
        let ((positive, negative), (zero, full)) = (ends?, range?);
        Some(SensorLaw::Thermocouple {
            positive,
            negative,
            couple: couple?,
            zero,
            full,
            cold: cold?,
            cold_positive,
            cold_negative,
            ohms: ohms?,
        })
    }

    fn potentiometer(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let above = self.two_ends(row, "positive", "wiper", who);
        let below = self.two_ends(row, "negative", "wiper", who);
        let track = self.number(row, "track_ohms", who);
        let excitation = self.excited_by(row, Quantity::Voltage, who);
        let ((positive, negative), (_, wiper), _) = (ends?, above?, below?);
        Some(SensorLaw::Potentiometer { positive, negative, wiper, track: track?, excitation: excitation? })
    }

    fn current_loop(&mut self, row: &Row, who: &Who) -> Option<SensorLaw> {
        let ends = self.two_ends(row, "positive", "negative", who);
        let volts_min = self.number(row, "volts_min", who);
        let burden = self.number(row, "burden_ohms", who);
        let (positive, negative) = ends?;
        Some(SensorLaw::CurrentLoop { positive, negative, volts_min, burden: burden? })
    }

    /// Temperatures at zero and at full scale, which must be in that order.
    fn temperature_range(&mut self, row: &Row, who: &Who) -> Option<(Given<Kelvin>, Given<Kelvin>)> {
        let zero: Option<Given<Kelvin>> = self.number(row, "zero_temperature", who);
        let full: Option<Given<Kelvin>> = self.number(row, "full_temperature", who);
        let (zero, full) = (zero?, full?);
        if full.value.0 <= zero.value.0 {
            let show = |g: Given<Kelvin>| quantity::show(g.value.0, Quantity::Temperature);
            self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    full.at,
                    "full_temperature",
                    format!("{}: full_temperature {} is not above zero_temperature {}", row.words(), show(full), show(zero)),
                )
                .note(zero.at, "zero_temperature")
                .help("the range runs upward; reading says where in it the sensor stands"),
            );
            return None;
        }
        Some((zero, full))
    }

    /// Whether a sensor can stand at its reading.
    fn readable(&mut self, row: &Row, law: &SensorLaw, reading: Given<Ratio>) {
        let ohms = match law {
            SensorLaw::Resistance { zero, full, .. } => Some(zero.value + (full.value - zero.value) * reading.value.0),
            SensorLaw::Rtd { r0, alpha, .. } => law.temperature(reading.value.0).map(|at| rtd_ohms(r0.value, alpha.value, at)),
            _ => None,
        };
        let fault = match (law, ohms) {
            (SensorLaw::Potentiometer { .. } | SensorLaw::CurrentLoop { .. }, _) if reading.value.0 < 0.0 => {
                "this kind of sensor reads from 0 to 100 %".to_owned()
            }
            (_, Some(ohms)) if ohms.0 <= 0.0 => format!("there it would have {}", quantity::show(ohms.0, Quantity::Resistance)),
            _ => return,
        };
        let share = quantity::show(reading.value.0, Quantity::Share);
        self.out
            .push(Diagnostic::error(codes::OUT_OF_RANGE, reading.at, "", format!("{} cannot stand at {share}", row.words())).help(fault));
    }

    /// The excitation that a calibration assumes: its unit must fit the kind of sensor.
    fn excited_by<T: From<f64>>(&mut self, row: &Row, needed: Quantity, who: &Who) -> Option<Given<T>> {
        let cell = row.cell("excitation")?;
        if let Value::Number(quantity, _) = cell.value
            && quantity != needed
        {
            self.out.push(
                Diagnostic::error(codes::WRONG_UNIT, cell.at, "", format!("{}: the excitation is {}", row.words(), needed.title()))
                    .help(format!("write for example {:?}", if needed == Quantity::Voltage { "10 V" } else { "1 mA" })),
            );
            return None;
        }
        self.number(row, key_of("sensor", "excitation"), who)
    }

    fn receiver(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Receiver(Id::from_row(self.design.receivers.len())));
        let ends = self.two_ends(row, "positive", "negative", &who);
        let ohms = match self.number(row, "input_ohms", &who) {
            Some(given) => given,
            None => {
                let note = self.assumed(&who, "input_ohms", "10 Mohm".to_owned(), "usual differential input; common practice, no source");
                Given { value: Ohm(10e6), at: row.at, note: Some(note) }
            }
        };
        self.open_word(row, "reference", &who);
        let reference = match row.cell("reference").map(|c| &c.value) {
            Some(Value::Text(_)) => self.end(row, "reference", &who),
            _ => None,
        };
        let common_low: Option<Given<Volt>> = self.number(row, "common_low", &who);
        let common_high: Option<Given<Volt>> = self.number(row, "common_high", &who);
        if let (Some(low), Some(high)) = (common_low, common_high)
            && high.value < low.value
        {
            self.contradiction(row, ("common_high", high), ("common_low", low), "the greatest voltage is not below the least one");
        }
        let Some((positive, negative)) = ends else { return };
        self.design.receivers.push(Receiver {
            name: row.name.clone(),
            positive,
            negative,
            ohms,
            reference,
            common_low,
            common_high,
            at: row.at,
        });
    }

    fn excitation(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Excitation(Id::from_row(self.design.excitations.len())));
        let ends = self.two_ends(row, "positive", "negative", &who);
        let current = self.number(row, "current", &who);
        let (Some((positive, negative)), Some(current)) = (ends, current) else { return };
        self.design.excitations.push(Excitation { name: row.name.clone(), positive, negative, current, at: row.at });
    }

    fn strap(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Strap(Id::from_row(self.design.straps.len())));
        let ends = self.two_ends(row, "from", "to", &who);
        let ohms = self.spread_or(row, "ohms", &who, Quantity::Resistance, [2.5e-3; 3], "usual class of bond; common practice, no source");
        let Some((from, to)) = ends else { return };
        self.design.straps.push(Strap { name: row.name.clone(), from, to, ohms, at: row.at });
    }

    fn structure(&mut self, row: &Row) {
        let who = self.element(row, ElementId::StructurePath(Id::from_row(self.design.structure_paths.len())));
        let ends = self.two_ends(row, "from", "to", &who);
        let ohms = self.spread_or(row, "ohms", &who, Quantity::Resistance, [5e-3; 3], "FAA AC 43.13-1B accepts 0.005 ohm to any ground");
        let Some((from, to)) = ends else { return };
        self.design.structure_paths.push(StructurePath { name: row.name.clone(), from, to, ohms, at: row.at });
    }

    fn link(&mut self, row: &Row) {
        let who = self.element(row, ElementId::Link(Id::from_row(self.design.links.len())));
        let ends = self.two_ends(row, "from", "to", &who);
        let ohms = self.spread_or(row, "ohms", &who, Quantity::Resistance, [1e-3; 3], "usual track or jumper; common practice, no source");
        let Some((from, to)) = ends else { return };
        self.design.links.push(Link { name: row.name.clone(), from, to, ohms, at: row.at });
    }
}
